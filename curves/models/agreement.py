"""A shared strip that goes round the members: the study, and what each read on it with which instrument."""

from django.conf import settings
from django.db import models

from curves.models.instruments import Instrument, TabletRevision


class AgreementStudy(models.Model):
    """One strip, read by several members with several instruments of one kind of density."""

    name = models.CharField(max_length=80, unique=True)
    strip_name = models.CharField(max_length=120, help_text="Which strip goes round.")
    tablet_revision = models.ForeignKey(
        TabletRevision, on_delete=models.PROTECT, null=True, blank=True, related_name="agreement_studies"
    )
    step_count = models.PositiveSmallIntegerField()
    density_type = models.CharField(max_length=12, choices=Instrument.DensityType.choices)
    geometry = models.CharField(max_length=16, choices=Instrument.Geometry.choices)
    planned_replicates = models.PositiveSmallIntegerField(default=2)
    notes = models.TextField(blank=True)
    created_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ["-id"]
        verbose_name_plural = "agreement studies"
        constraints = [
            models.CheckConstraint(condition=models.Q(step_count__gte=1), name="agreement_study_has_steps"),
            models.CheckConstraint(
                condition=models.Q(planned_replicates__gte=1), name="agreement_study_replicates_planned"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def is_open(self) -> bool:
        """Whether members may still enter readings."""
        return self.closed_at is None


class AgreementReading(models.Model):
    """The density of one step as one member read it once; withdrawn with a reason, never overwritten."""

    study = models.ForeignKey(AgreementStudy, on_delete=models.PROTECT, related_name="readings")
    read_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    instrument = models.ForeignKey(Instrument, on_delete=models.PROTECT, related_name="agreement_readings")
    step = models.PositiveSmallIntegerField()
    replicate = models.PositiveSmallIntegerField(default=1)
    density = models.FloatField()
    read_at = models.DateTimeField()
    is_current = models.BooleanField(default=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    ended_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["study", "read_by", "instrument", "step", "replicate", "id"]
        constraints = [
            models.UniqueConstraint(
                "study",
                "read_by",
                "instrument",
                "step",
                "replicate",
                condition=models.Q(is_current=True),
                name="agreement_reading_current_unique",
            ),
            models.CheckConstraint(
                condition=models.Q(density__gte=-0.1) & models.Q(density__lte=6.0),
                name="agreement_reading_density_in_range",
            ),
            models.CheckConstraint(
                condition=models.Q(is_current=True) | ~models.Q(ended_reason=""),
                name="agreement_reading_ended_reason_given",
            ),
        ]

    def __str__(self) -> str:
        return f"step {self.step}: {self.density:.3f}"
