"""A file as it was uploaded, kept once by its digest, with what the check of its content found."""

from pathlib import Path

from django.conf import settings
from django.db import models


class FileState(models.TextChoices):
    """What the check found; only a measurable file yields numbers."""

    UNCHECKED = "unchecked", "being checked"
    MEASURABLE = "measurable", "fit for measuring"
    VIEW_ONLY = "view_only", "for looking only"
    REFUSED = "refused", "could not be read"


class StoredFile(models.Model):
    """One content, however often and under whatever name it was uploaded; never changed, at most removed."""

    digest = models.CharField(max_length=64, unique=True, help_text="SHA-256 of the content.")
    size_bytes = models.PositiveBigIntegerField()
    state = models.CharField(max_length=12, choices=FileState.choices, default=FileState.UNCHECKED)
    refusal_code = models.CharField(max_length=40, blank=True)
    refusal_text = models.TextField(blank=True, help_text="Why it can't be read, or not be measured.")
    format = models.CharField(max_length=8, blank=True)
    width_px = models.PositiveIntegerField(null=True, blank=True)
    height_px = models.PositiveIntegerField(null=True, blank=True)
    channels = models.PositiveSmallIntegerField(null=True, blank=True)
    bit_depth = models.PositiveSmallIntegerField(null=True, blank=True)
    resolution_x_ppi = models.FloatField(null=True, blank=True)
    resolution_y_ppi = models.FloatField(null=True, blank=True)
    metadata = models.JSONField(default=dict, help_text="Make, model, software, colour profile, compression.")
    flags = models.JSONField(default=list)
    created_at = models.DateTimeField(auto_now_add=True)
    checked_at = models.DateTimeField(null=True, blank=True)
    content_removed_at = models.DateTimeField(
        null=True, blank=True, help_text="When the content was removed to make room; empty: it is there."
    )

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.CheckConstraint(
                condition=~models.Q(state__in=["refused", "view_only"]) | ~models.Q(refusal_text=""),
                name="stored_file_refusal_says_why",
            ),
        ]

    def __str__(self) -> str:
        return f"file {self.digest[:12]}"

    @property
    def path(self) -> Path:
        """Where the content lies, under a name of the lab's own making."""
        return settings.MEDIA_ROOT / "scans" / self.digest[:2] / self.digest

    @property
    def can_be_seen(self) -> bool:
        """Whether it is a picture at all."""
        return self.state in (FileState.MEASURABLE, FileState.VIEW_ONLY)

    @property
    def resolution_ppi(self) -> tuple[float, float] | None:
        """What the file says of its resolution, (x, y) in pixels per inch."""
        if self.resolution_x_ppi is None or self.resolution_y_ppi is None:
            return None
        return self.resolution_x_ppi, self.resolution_y_ppi
