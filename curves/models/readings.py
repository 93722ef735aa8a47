"""Readings: never overwritten, never deleted; a correction ends the old one and says why."""

from django.conf import settings
from django.db import models

from curves.models.instruments import Instrument
from curves.models.rolls import Strip

# The unexposed area is kept as step 0, not as an empty step: databases differ on whether two empty
# values are the same, and "one current reading a cell" must hold on all of them.
UNEXPOSED_STEP = 0


class Reading(models.Model):
    """The gross density of one step, or of the unexposed area, as somebody read it once."""

    class Source(models.TextChoices):
        TYPED = "typed", "typed"
        FILE = "file", "from a file"
        SCRIPT = "script", "sent by a script"
        SCAN = "scan", "from a scan"

    strip = models.ForeignKey(Strip, on_delete=models.CASCADE, related_name="readings")
    step = models.PositiveSmallIntegerField(help_text="0: the unexposed area.")
    replicate = models.PositiveSmallIntegerField(default=1)
    density = models.FloatField()
    instrument = models.ForeignKey(
        Instrument, on_delete=models.PROTECT, null=True, blank=True, related_name="readings"
    )
    source = models.CharField(max_length=8, choices=Source.choices, default=Source.TYPED)
    source_name = models.CharField(max_length=200, blank=True)
    read_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    read_at = models.DateTimeField(auto_now_add=True)
    is_current = models.BooleanField(default=True)
    superseded_by = models.ForeignKey(
        "self", on_delete=models.SET_NULL, null=True, blank=True, related_name="supersedes"
    )
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["strip", "step", "replicate", "id"]
        constraints = [
            models.UniqueConstraint(
                "strip",
                "step",
                "replicate",
                condition=models.Q(is_current=True),
                name="reading_current_unique",
            ),
            models.CheckConstraint(
                condition=models.Q(density__gte=-0.1) & models.Q(density__lte=6.0),
                name="reading_density_in_range",
            ),
            models.CheckConstraint(
                condition=models.Q(is_current=True) | ~models.Q(ended_reason=""),
                name="reading_ended_reason_given",
            ),
        ]

    def __str__(self) -> str:
        return f"{'unexposed' if self.is_unexposed else f'step {self.step}'}: {self.density:.2f}"

    @property
    def is_unexposed(self) -> bool:
        """Whether it is a reading of base plus fog."""
        return self.step == UNEXPOSED_STEP
