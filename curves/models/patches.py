"""Patches of a target, and their readings on the frames of a roll.

A patch's luminance factor holds under one light, so a set belongs to one exposure revision. Readings are
never overwritten: a correction ends the old one and says why.
"""

from django.conf import settings
from django.db import models

from curves.models.exposures import ExposureRevision
from curves.models.instruments import Instrument
from curves.models.rolls import Roll


class PatchSet(models.Model):
    """The patches that are photographed under one exposure revision."""

    exposure_revision = models.OneToOneField(
        ExposureRevision, on_delete=models.PROTECT, related_name="patch_set"
    )
    name = models.CharField(max_length=80)
    source = models.CharField(max_length=160, help_text="Who measured the patches with what.")
    created_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Patch(models.Model):
    """One patch: its luminance factor under the light of the set, and whether it is grey."""

    patch_set = models.ForeignKey(PatchSet, on_delete=models.CASCADE, related_name="patches")
    number = models.PositiveSmallIntegerField()
    label = models.CharField(max_length=40)
    luminance_factor = models.FloatField(help_text="Share of a perfect white; 0.18 for middle grey.")
    is_grey = models.BooleanField(default=False)

    class Meta:
        ordering = ["patch_set", "number"]
        constraints = [
            models.UniqueConstraint("patch_set", "number", name="patch_number_unique"),
            models.UniqueConstraint("patch_set", "label", name="patch_label_unique"),
            models.CheckConstraint(
                condition=models.Q(luminance_factor__gt=0) & models.Q(luminance_factor__lte=1.2),
                name="patch_luminance_factor_in_range",
            ),
        ]

    def __str__(self) -> str:
        return self.label


class PatchFrame(models.Model):
    """A frame of a roll with the target on it: how it was exposed against the meter, and through what."""

    roll = models.ForeignKey(Roll, on_delete=models.CASCADE, related_name="patch_frames")
    label = models.CharField(max_length=20)
    metered_index = models.FloatField(help_text="Index that the meter was set to.")
    offset_stops = models.FloatField(
        default=0.0, help_text="Exposure given against the metered one, by true settings."
    )
    filter_name = models.CharField(max_length=60, blank=True, help_text="Empty: without a filter.")
    created_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["roll", "id"]
        constraints = [
            models.UniqueConstraint("roll", "label", name="patch_frame_label_unique"),
            models.CheckConstraint(
                condition=models.Q(metered_index__gt=0), name="patch_frame_index_positive"
            ),
        ]

    def __str__(self) -> str:
        return f"frame {self.label}"

    @property
    def exposure_index(self) -> float:
        """Index for which this frame is the metered exposure."""
        return self.metered_index * 2**-self.offset_stops


class PatchReading(models.Model):
    """The gross density of one patch on one frame, as somebody read it once."""

    class Source(models.TextChoices):
        TYPED = "typed", "typed"
        FILE = "file", "from a file"
        SCRIPT = "script", "sent by a script"
        SCAN = "scan", "from a scan"

    frame = models.ForeignKey(PatchFrame, on_delete=models.CASCADE, related_name="readings")
    patch = models.ForeignKey(Patch, on_delete=models.PROTECT, related_name="readings")
    replicate = models.PositiveSmallIntegerField(default=1)
    density = models.FloatField()
    instrument = models.ForeignKey(
        Instrument, on_delete=models.PROTECT, null=True, blank=True, related_name="patch_readings"
    )
    source = models.CharField(max_length=8, choices=Source.choices, default=Source.TYPED)
    source_name = models.CharField(max_length=200, blank=True)
    read_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    read_at = models.DateTimeField(auto_now_add=True)
    is_current = models.BooleanField(default=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["frame", "patch", "replicate", "id"]
        constraints = [
            models.UniqueConstraint(
                "frame",
                "patch",
                "replicate",
                condition=models.Q(is_current=True),
                name="patch_reading_current_unique",
            ),
            models.CheckConstraint(
                condition=models.Q(density__gte=-0.1) & models.Q(density__lte=6.0),
                name="patch_reading_density_in_range",
            ),
            models.CheckConstraint(
                condition=models.Q(is_current=True) | ~models.Q(ended_reason=""),
                name="patch_reading_ended_reason_given",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.patch_id}: {self.density:.2f}"
