"""What was measured on a scan. Rows are immutable: another placement or calibration makes another row."""

from django.conf import settings
from django.db import models

from curves.models import Reading, Strip
from scans.models.calibrations import ScannerCalibration, ScannerTrial
from scans.models.placements import Placement
from scans.models.scans import Scan


class MeasurementKind(models.TextChoices):
    """What kind of numbers the document holds."""

    DENSITY = "density", "densities of areas"
    GRAIN = "grain", "grain"
    EDGE = "edge", "sharpness"


class Measurement(models.Model):
    """One report of the imaging package, with all it rests on."""

    scan = models.ForeignKey(Scan, on_delete=models.CASCADE, related_name="measurements")
    kind = models.CharField(max_length=8, choices=MeasurementKind.choices)
    placement = models.ForeignKey(
        Placement, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    calibration = models.ForeignKey(
        ScannerCalibration, on_delete=models.PROTECT, null=True, blank=True, related_name="measurements"
    )
    trial = models.ForeignKey(ScannerTrial, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    engine_version = models.CharField(max_length=20)
    input_digest = models.CharField(max_length=64)
    document = models.JSONField(help_text="Areas with density and flags, granularity or MTF, notes.")
    is_current = models.BooleanField(default=True)
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.UniqueConstraint(
                "scan", "kind", "engine_version", "input_digest", name="measurement_once_per_input"
            ),
            models.UniqueConstraint(
                "scan", "kind", condition=models.Q(is_current=True), name="measurement_one_current"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} of {self.scan_id}"


class Transfer(models.Model):
    """Densities of one measurement taken into a roll's strip: which readings came of it."""

    measurement = models.ForeignKey(Measurement, on_delete=models.PROTECT, related_name="transfers")
    strip = models.ForeignKey(Strip, on_delete=models.CASCADE, related_name="+")
    readings = models.ManyToManyField(Reading, related_name="+")
    taken_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return f"readings from {self.measurement_id}"
