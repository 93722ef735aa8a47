"""Pictures cut into tiles for looking; they can be made again from the file at any time."""

from pathlib import Path

from django.conf import settings
from django.db import models

from scans.models.calibrations import ScannerCalibration
from scans.models.files import StoredFile


class TilePyramid(models.Model):
    """The tiles of one file, coded by one calibration's densities or by the file's own levels."""

    file = models.ForeignKey(StoredFile, on_delete=models.CASCADE, related_name="pyramids")
    calibration = models.ForeignKey(
        ScannerCalibration, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    document = models.JSONField(help_text="Size, tile size, levels, and what a grey code means.")
    size_bytes = models.PositiveBigIntegerField(
        null=True, blank=True, help_text="Of all tiles and the small picture; empty: not measured yet."
    )
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.UniqueConstraint("file", "calibration", name="pyramid_once_per_calibration"),
            models.UniqueConstraint(
                "file", condition=models.Q(calibration__isnull=True), name="pyramid_once_uncalibrated"
            ),
        ]

    def __str__(self) -> str:
        return f"tiles of {self.file_id}"

    @property
    def folder(self) -> Path:
        """Where the tiles lie, a folder a level."""
        coding = f"c{self.calibration_id}" if self.calibration_id else "levels"
        return settings.MEDIA_ROOT / "tiles" / f"{self.file_id}-{coding}"

    @property
    def thumbnail_path(self) -> Path:
        """The small picture, which is written when all tiles are."""
        return self.folder / "thumbnail.png"

    @property
    def is_on_disk(self) -> bool:
        """Whether the tiles are there; a backup may leave them out."""
        return self.thumbnail_path.is_file()
