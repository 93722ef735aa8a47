"""A scanner's calibrations and trials: what makes it an instrument, with the settings they hold for."""

from django.conf import settings
from django.db import models

from curves.models import Instrument, TabletRevision
from scans.models.scans import Scan


class CalibrationState(models.TextChoices):
    """The newest of a set-up is in force; an earlier one is superseded; an admin may void one."""

    IN_FORCE = "in_force", "in force"
    SUPERSEDED = "superseded", "superseded"
    VOID = "void", "void"


class ScannerCalibration(models.Model):
    """The response of one scanner with one set of settings, from a scan of a calibrated step tablet."""

    scanner = models.ForeignKey(Instrument, on_delete=models.PROTECT, related_name="calibrations")
    scan = models.ForeignKey(Scan, on_delete=models.PROTECT, related_name="calibrations")
    tablet_revision = models.ForeignKey(TabletRevision, on_delete=models.PROTECT, related_name="+")
    setup = models.JSONField(help_text="Scanner and settings it holds for.")
    setup_digest = models.CharField(max_length=64, help_text="SHA-256 of the set-up, to find it by.")
    document = models.JSONField(help_text="The response with its covariance, as measure_scan reads it.")
    made_on = models.DateField()
    valid_days = models.PositiveSmallIntegerField()
    drift = models.JSONField(default=dict, help_text="Against the calibration before it; empty: the first.")
    state = models.CharField(
        max_length=10, choices=CalibrationState.choices, default=CalibrationState.IN_FORCE
    )
    void_reason = models.TextField(blank=True)
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    input_digest = models.CharField(max_length=64)
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.UniqueConstraint(
                "setup_digest",
                condition=models.Q(state=CalibrationState.IN_FORCE),
                name="calibration_one_in_force",
            ),
            models.UniqueConstraint("scan", "input_digest", name="calibration_once_per_input"),
            models.CheckConstraint(
                condition=~models.Q(state=CalibrationState.VOID) | ~models.Q(void_reason=""),
                name="calibration_void_reason_given",
            ),
        ]

    def __str__(self) -> str:
        return f"calibration {self.pk} of {self.scanner_id}"


class ScannerTrial(models.Model):
    """A scanner's own noise and sharpness with one set of settings, which limit grain and sharpness."""

    scanner = models.ForeignKey(Instrument, on_delete=models.PROTECT, related_name="trials")
    setup = models.JSONField()
    setup_digest = models.CharField(max_length=64)
    scans = models.ManyToManyField(Scan, related_name="trials")
    document = models.JSONField(help_text="Noise and MTF of the scanner, as the imaging package reads them.")
    is_in_force = models.BooleanField(default=True)
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.UniqueConstraint(
                "setup_digest", condition=models.Q(is_in_force=True), name="trial_one_in_force"
            ),
        ]

    def __str__(self) -> str:
        return f"trial {self.pk} of {self.scanner_id}"
