"""Exposure standards in revisions: the target, the light and how the exposure is known."""

from django.conf import settings
from django.db import models

from curves.models.instruments import StepTablet
from curves.models.revisions import Revision, RevisionState


class ExposureStandard(models.Model):
    """The name under which a way of exposing is kept; what it fixes is in its revisions."""

    name = models.CharField(max_length=80, unique=True)
    purpose = models.TextField(blank=True)
    created_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class ExposureMethod(models.TextChoices):
    """How the tablet's steps get on the film."""

    TABLET_CONTACT = "tablet_contact", "step tablet, contact-exposed"
    TABLET_PHOTOGRAPHED = "tablet_photographed", "step tablet, photographed"


class ExposureRevision(Revision):
    """Everything about the exposure that is held the same while stocks are compared.

    The exposure of a step is ``log_exposure_clear`` less the step's calibrated density. Where the
    absolute exposure is not known that constant is empty and log exposures count from the tablet's
    clear area: no speed in the sense of ISO 6 can follow, only one relative to the reference.
    """

    standard = models.ForeignKey(ExposureStandard, on_delete=models.PROTECT, related_name="revisions")
    method = models.CharField(
        max_length=20, choices=ExposureMethod.choices, default=ExposureMethod.TABLET_CONTACT
    )
    tablet = models.ForeignKey(StepTablet, on_delete=models.PROTECT, related_name="exposure_revisions")
    target = models.CharField(max_length=200, blank=True)
    light = models.CharField(max_length=120, help_text="Such as lamp with daylight filter.")
    colour_temperature_k = models.PositiveIntegerField()
    exposure_time_s = models.FloatField()
    log_exposure_clear = models.FloatField(
        null=True,
        blank=True,
        help_text="log₁₀ of the exposure in lux·s where the tablet is clear; empty: relative only.",
    )
    log_exposure_sd = models.FloatField(
        default=0.0, help_text="Standard uncertainty of that constant, log₁₀."
    )
    bracket_spacing_stops = models.FloatField(default=1 / 3)

    class Meta:
        ordering = ["standard", "-number"]
        constraints = [
            models.UniqueConstraint("standard", "number", name="exposure_revision_number_unique"),
            models.UniqueConstraint(
                "standard",
                condition=models.Q(state=RevisionState.IN_FORCE),
                name="exposure_revision_one_in_force",
            ),
            models.CheckConstraint(
                condition=models.Q(exposure_time_s__gt=0), name="exposure_revision_time_positive"
            ),
            models.CheckConstraint(
                condition=models.Q(log_exposure_sd__gte=0), name="exposure_revision_sd_not_negative"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.standard}, revision {self.number}"

    @property
    def is_absolute(self) -> bool:
        """Whether exposures are known in lux·s."""
        return self.log_exposure_clear is not None
