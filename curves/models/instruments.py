"""What readings are made with: densitometers and scanners, and step tablets with their calibration."""

from django.conf import settings
from django.db import models

from curves.models.revisions import Revision, RevisionState


class Instrument(models.Model):
    """A densitometer or scanner, with the density type and geometry that its readings have."""

    class Kind(models.TextChoices):
        DENSITOMETER = "densitometer", "densitometer"
        SCANNER = "scanner", "scanner"

    class DensityType(models.TextChoices):
        VISUAL = "visual", "visual"
        PRINTING_TYPE_1 = "printing_1", "printing, type 1"
        PRINTING_TYPE_2 = "printing_2", "printing, type 2"
        BLUE = "blue", "blue filter"

    class Geometry(models.TextChoices):
        DIFFUSE = "diffuse", "diffuse transmission"
        PROJECTION_4_5 = "projection_4_5", "projection, f/4.5"
        PROJECTION_1_6 = "projection_1_6", "projection, f/1.6"
        SCANNER = "scanner", "as the scanner sees it"

    name = models.CharField(max_length=80, unique=True)
    kind = models.CharField(max_length=14, choices=Kind.choices, default=Kind.DENSITOMETER)
    density_type = models.CharField(max_length=12, choices=DensityType.choices, default=DensityType.VISUAL)
    geometry = models.CharField(max_length=16, choices=Geometry.choices, default=Geometry.DIFFUSE)
    aperture_mm = models.FloatField(null=True, blank=True)
    reading_sd = models.FloatField(
        null=True,
        blank=True,
        help_text="Standard deviation of repeated readings, in density; empty: not known.",
    )
    check_every_days = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        default=90,
        help_text="Days after which it is due to be checked on a tablet; empty: it is not checked regularly.",
    )
    is_active = models.BooleanField(default=True)
    notes = models.TextField(blank=True)
    created_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(reading_sd__isnull=True) | models.Q(reading_sd__gt=0),
                name="instrument_reading_sd_positive",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class StepTablet(models.Model):
    """A step tablet as an object in a drawer; its densities are in its calibrations."""

    name = models.CharField(max_length=80, unique=True)
    notes = models.TextField(blank=True)
    created_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class TabletRevision(Revision):
    """One calibration of a tablet: the density of every step, and how well it is known."""

    tablet = models.ForeignKey(StepTablet, on_delete=models.PROTECT, related_name="revisions")
    calibrated_on = models.DateField()
    source = models.CharField(max_length=160, help_text="Certificate number, or who calibrated it with what.")
    density_sd = models.FloatField(
        help_text="Standard uncertainty of a step's density, common to all strips made with this tablet."
    )

    class Meta:
        ordering = ["tablet", "-number"]
        constraints = [
            models.UniqueConstraint("tablet", "number", name="tablet_revision_number_unique"),
            models.UniqueConstraint(
                "tablet",
                condition=models.Q(state=RevisionState.IN_FORCE),
                name="tablet_revision_one_in_force",
            ),
            models.CheckConstraint(
                condition=models.Q(density_sd__gte=0), name="tablet_revision_sd_not_negative"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.tablet}, calibration {self.number}"


class TabletStep(models.Model):
    """The calibrated density of one step."""

    revision = models.ForeignKey(TabletRevision, on_delete=models.CASCADE, related_name="steps")
    step = models.PositiveSmallIntegerField()
    density = models.FloatField()

    class Meta:
        ordering = ["revision", "step"]
        constraints = [models.UniqueConstraint("revision", "step", name="tablet_step_unique")]

    def __str__(self) -> str:
        return f"step {self.step}: {self.density:.3f}"
