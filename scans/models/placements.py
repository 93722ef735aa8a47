"""Where on a scan the things to be read lie: found, or put there by a member; earlier ones are kept."""

from django.conf import settings
from django.db import models

from scans.models.scans import Scan


class Placement(models.Model):
    """One revision of a scan's areas; the newest stands."""

    class Origin(models.TextChoices):
        FOUND = "found", "found by the lab"
        PLACED = "placed", "placed by hand"

    scan = models.ForeignKey(Scan, on_delete=models.CASCADE, related_name="placements")
    number = models.PositiveSmallIntegerField()
    origin = models.CharField(max_length=8, choices=Origin.choices)
    outline = models.JSONField(default=list, help_text="Four corners (x, y) in pixels, in order around it.")
    darkens = models.CharField(max_length=8, blank=True, help_text="Which way a tablet's steps darken.")
    layout = models.CharField(max_length=20, help_text="steps-21, target, or whole.")
    areas = models.JSONField(default=list, help_text="Label and corners of every area to be read.")
    flags = models.JSONField(default=list)
    refusal_code = models.CharField(max_length=40, blank=True)
    refusal_text = models.TextField(blank=True, help_text="Why nothing was found.")
    placed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["scan", "-number"]
        constraints = [
            models.UniqueConstraint("scan", "number", name="placement_number_unique"),
        ]

    def __str__(self) -> str:
        return f"placement {self.number} of {self.scan_id}"

    @property
    def is_found(self) -> bool:
        """Whether there is anything to read."""
        return bool(self.areas)
