"""Control strips as they were read, the aims they are held against, and what was found by them."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from curves.models.instruments import Instrument
from curves.models.processes import ControlState, ProcessRevision, ProcessRun
from curves.models.revisions import Revision, RevisionState


class StripBatch(models.Model):
    """Strips of one film that were exposed together, and so alike."""

    code = models.CharField(max_length=60, unique=True)
    notes = models.TextField(blank=True)
    created_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-id"]
        verbose_name_plural = "strip batches"

    def __str__(self) -> str:
        return self.code


class ControlStrip(models.Model):
    """The gross densities of one strip that was developed with a run; never overwritten, only struck out."""

    run = models.ForeignKey(ProcessRun, on_delete=models.PROTECT, related_name="control_strips")
    batch = models.ForeignKey(StripBatch, on_delete=models.PROTECT, related_name="strips")
    replicate = models.PositiveSmallIntegerField(help_text="Place among the run's strips of this batch.")
    base_fog = models.FloatField(null=True, blank=True)
    speed_step = models.FloatField(null=True, blank=True)
    high_step = models.FloatField(null=True, blank=True)
    dmax = models.FloatField(null=True, blank=True)
    instrument = models.ForeignKey(
        Instrument, on_delete=models.PROTECT, null=True, blank=True, related_name="control_strips"
    )
    read_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    read_at = models.DateTimeField(auto_now_add=True)
    is_current = models.BooleanField(default=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["run", "batch", "replicate"]
        constraints = [
            models.UniqueConstraint("run", "batch", "replicate", name="control_strip_replicate_unique"),
            models.CheckConstraint(
                condition=Q(is_current=True) | ~Q(ended_reason=""), name="control_strip_ended_reason_given"
            ),
        ]
        indexes = [models.Index(fields=["batch", "run"], name="control_strip_of_batch")]

    def __str__(self) -> str:
        return f"control strip {self.batch} of run {self.run_id}"


class AimsBasis(models.TextChoices):
    """Where aims come from."""

    STRIPS = "strips", "strips in control"
    STATED = "stated", "stated by hand"
    CARRIED = "carried", "carried over from another batch of strips"


class ControlAims(Revision):
    """Aims and limits of one batch of strips under one process revision; immutable once in force."""

    process_revision = models.ForeignKey(
        ProcessRevision, on_delete=models.PROTECT, related_name="control_aims"
    )
    strip_batch = models.ForeignKey(StripBatch, on_delete=models.PROTECT, related_name="aims")
    basis = models.CharField(max_length=8, choices=AimsBasis.choices)
    rules = models.CharField(max_length=24, default="western_electric")
    least_strips = models.PositiveSmallIntegerField(
        default=10, help_text="Runs that have to stand behind aims which prove control."
    )
    aims = models.JSONField(help_text="The engine's own dictionary of aims and limits.")
    offset = models.JSONField(null=True, blank=True, help_text="How the batch differs from the one before.")
    strips = models.ManyToManyField(ControlStrip, related_name="aims")

    class Meta:
        ordering = ["process_revision", "-number"]
        verbose_name_plural = "control aims"
        constraints = [
            models.UniqueConstraint("process_revision", "number", name="control_aims_number_unique"),
            models.UniqueConstraint(
                "process_revision",
                "strip_batch",
                condition=Q(state=RevisionState.IN_FORCE),
                name="control_aims_one_in_force",
            ),
        ]

    def __str__(self) -> str:
        return f"aims {self.number} for {self.process_revision}, strips {self.strip_batch}"


class StripJudgement(models.Model):
    """What the strips of one batch said of a run, against which aims; the newest one is current."""

    run = models.ForeignKey(ProcessRun, on_delete=models.CASCADE, related_name="strip_judgements")
    strip_batch = models.ForeignKey(StripBatch, on_delete=models.PROTECT, related_name="+")
    aims = models.ForeignKey(ControlAims, on_delete=models.PROTECT, null=True, related_name="judgements")
    state = models.CharField(max_length=16, choices=ControlState.choices)
    reason_code = models.CharField(max_length=40, blank=True)
    verdict = models.JSONField(help_text="The engine's own dictionary.")
    engine_version = models.CharField(max_length=20)
    is_current = models.BooleanField(default=True)
    judged_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.UniqueConstraint(
                "run", "strip_batch", condition=Q(is_current=True), name="strip_judgement_one_current"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.state} by strips {self.strip_batch_id}"


class ChartNote(models.Model):
    """What happened on a day that a control chart should show."""

    class Kind(models.TextChoices):
        DEVELOPER = "developer", "developer mixed or changed"
        THERMOMETER = "thermometer", "thermometer checked"
        INSTRUMENT = "instrument", "instrument checked"
        OTHER = "other", "something else"

    process_revision = models.ForeignKey(
        ProcessRevision, on_delete=models.PROTECT, related_name="chart_notes"
    )
    noted_on = models.DateField()
    kind = models.CharField(max_length=12, choices=Kind.choices, default=Kind.OTHER)
    text = models.CharField(max_length=200)
    author = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["noted_on", "id"]

    def __str__(self) -> str:
        return self.text
