"""Printing papers and their measured curves, in revisions as every standard's."""

from django.conf import settings
from django.db import models

from curves.models.revisions import Revision, RevisionState


class Paper(models.Model):
    """A paper in one grade or behind one filter, as it lies in the darkroom; its curves are its revisions."""

    name = models.CharField(max_length=80, unique=True)
    notes = models.TextField(blank=True)
    created_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class PaperRevision(Revision):
    """One measured curve: what was printed and developed how, and how well its densities are known.

    Log exposures count from any zero. Where the exposure of that zero is known in lux seconds the paper
    has a speed; its range needs no zero.
    """

    paper = models.ForeignKey(Paper, on_delete=models.PROTECT, related_name="revisions")
    grade = models.CharField(max_length=80, help_text="Such as grade 2, or the filter's name.")
    developer = models.CharField(max_length=120)
    measured_on = models.DateField()
    source = models.CharField(max_length=160, help_text="Who measured it with what.")
    density_sd = models.FloatField(help_text="Standard uncertainty of one density of the curve.")
    base_plus_fog = models.FloatField(
        null=True, blank=True, help_text="Density of unexposed, processed paper; empty: not read."
    )
    log_exposure_zero = models.FloatField(
        null=True, blank=True, help_text="log₁₀ lux·s at log exposure 0; empty: relative only."
    )
    log_exposure_sd = models.FloatField(
        default=0.0, help_text="Standard uncertainty of that constant, log₁₀."
    )

    class Meta:
        ordering = ["paper", "-number"]
        constraints = [
            models.UniqueConstraint("paper", "number", name="paper_revision_number_unique"),
            models.UniqueConstraint(
                "paper",
                condition=models.Q(state=RevisionState.IN_FORCE),
                name="paper_revision_one_in_force",
            ),
            models.CheckConstraint(condition=models.Q(density_sd__gt=0), name="paper_revision_sd_positive"),
            models.CheckConstraint(
                condition=models.Q(log_exposure_sd__gte=0), name="paper_revision_exposure_sd_not_negative"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.paper}, curve {self.number}"

    @property
    def is_absolute(self) -> bool:
        """Whether exposures are known in lux seconds."""
        return self.log_exposure_zero is not None


class PaperPoint(models.Model):
    """One point of a paper's curve."""

    revision = models.ForeignKey(PaperRevision, on_delete=models.CASCADE, related_name="points")
    number = models.PositiveSmallIntegerField()
    log_exposure = models.FloatField()
    density = models.FloatField()

    class Meta:
        ordering = ["revision", "number"]
        constraints = [models.UniqueConstraint("revision", "number", name="paper_point_number_unique")]

    def __str__(self) -> str:
        return f"{self.log_exposure:.2f}: {self.density:.2f}"
