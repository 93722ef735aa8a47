"""Checks of an instrument on a reference tablet: what it read where the density is certified."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from curves.models.instruments import Instrument, TabletRevision


class InstrumentCheck(models.Model):
    """One check; never overwritten, only struck out.

    ``readings`` are dictionaries of level (zero, mid, high, or empty), step (0: nothing in the beam),
    density, certified density and its standard uncertainty: the certificate as it was when it was checked.
    Density type and geometry are those that the certificate and the instrument had in common then; checks
    of another kind are another series.
    """

    instrument = models.ForeignKey(Instrument, on_delete=models.PROTECT, related_name="checks")
    tablet_revision = models.ForeignKey(TabletRevision, on_delete=models.PROTECT, related_name="checks")
    density_type = models.CharField(max_length=12, choices=Instrument.DensityType.choices)
    geometry = models.CharField(max_length=16, choices=Instrument.Geometry.choices)
    checked_on = models.DateField()
    readings = models.JSONField()
    notes = models.CharField(max_length=300, blank=True)
    checked_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)
    is_current = models.BooleanField(default=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["checked_on", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(is_current=True) | ~Q(ended_reason=""), name="instrument_check_ended_reason_given"
            ),
        ]
        indexes = [models.Index(fields=["instrument", "checked_on"], name="instrument_check_of_day")]

    def __str__(self) -> str:
        return f"check of {self.instrument} on {self.checked_on:%Y-%m-%d}"

    @property
    def by_level(self) -> dict[str, dict]:
        """The readings that make the zero, the middle and the high density."""
        return {reading["level"]: reading for reading in self.readings if reading["level"]}

    @property
    def series(self) -> tuple:
        """What has to be alike for checks to be held against each other."""
        steps = tuple(reading["step"] for reading in self.by_level.values())
        return (self.density_type, self.geometry, self.tablet_revision.tablet_id, steps)
