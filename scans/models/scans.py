"""Scans: what a file shows, of which roll, made by which scanner with which settings."""

from django.conf import settings
from django.db import models

from curves.models import Instrument, Roll, StepTablet, Strip
from scans.models.files import StoredFile


class Shows(models.TextChoices):
    """What lies on the scanner's glass; it decides what is looked for and measured."""

    UNKNOWN = "", "not said yet"
    TABLET = "tablet", "the step tablet itself, to calibrate the scanner"
    STRIP = "strip", "film exposed through the step tablet"
    FRAME = "frame", "a frame of the target"
    PRINT = "print", "a print of the target"
    FIELD = "field", "an evenly exposed field, for grain"
    EDGE = "edge", "a slanted edge, for sharpness"


class Scan(models.Model):
    """A file as a member put it into the lab's hands."""

    file = models.ForeignKey(StoredFile, on_delete=models.PROTECT, related_name="scans")
    member = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="scans")
    filename = models.CharField(max_length=200)
    shows = models.CharField(max_length=8, choices=Shows.choices, default=Shows.UNKNOWN, blank=True)
    roll = models.ForeignKey(Roll, on_delete=models.PROTECT, null=True, blank=True, related_name="scans")
    strip = models.ForeignKey(Strip, on_delete=models.PROTECT, null=True, blank=True, related_name="scans")
    tablet = models.ForeignKey(
        StepTablet, on_delete=models.PROTECT, null=True, blank=True, related_name="scans"
    )
    frame_label = models.CharField(max_length=40, blank=True, help_text="Such as frame 7, or +⅔ stop.")
    scanner = models.ForeignKey(
        Instrument, on_delete=models.PROTECT, null=True, blank=True, related_name="scans"
    )
    settings = models.JSONField(
        default=dict, help_text="What was set on the scanner beside what the file says: holder, light, mode."
    )
    told_resolution_ppi = models.FloatField(
        null=True, blank=True, help_text="Given by the member where the file does not say, or says it wrong."
    )
    told_resolution_reason = models.TextField(
        blank=True, help_text="Why it is not what the file says; empty where the file says nothing."
    )
    scanned_on = models.DateField(null=True, blank=True)
    notes = models.TextField(blank=True)
    is_discarded = models.BooleanField(default=False)
    discarded_at = models.DateTimeField(null=True, blank=True)
    created_at = models.DateTimeField(auto_now_add=True)
    updated_at = models.DateTimeField(auto_now=True)

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(told_resolution_ppi__isnull=True) | models.Q(told_resolution_ppi__gt=0),
                name="scan_resolution_positive",
            ),
            models.CheckConstraint(
                condition=models.Q(is_discarded=True, discarded_at__isnull=False)
                | models.Q(is_discarded=False, discarded_at__isnull=True),
                name="scan_discarded_has_its_time",
            ),
        ]

    def __str__(self) -> str:
        return self.code

    @property
    def code(self) -> str:
        """The name by which people call the scan."""
        return f"S-{self.pk:04d}" if self.pk else "new scan"
