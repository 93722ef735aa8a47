"""Corrections of an instrument, in revisions: what to make of its readings from a day on."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from curves.models.agreement import AgreementStudy
from curves.models.instruments import Instrument


class InstrumentCorrection(models.Model):
    """``offset + slope × reading``, with its error; never edited, replaced by a newer revision.

    From its day on a revision applies until the day of the newest revision after it. One that is taken
    out of force stays on record and applies no more.
    """

    instrument = models.ForeignKey(Instrument, on_delete=models.PROTECT, related_name="corrections")
    # Kept as it was then: a result names the revision for ever, whatever the instrument is called later.
    instrument_name = models.CharField(max_length=80)
    number = models.PositiveIntegerField()
    applies_from_on = models.DateField()
    offset = models.FloatField(help_text="Density to add at a reading of zero.")
    slope = models.FloatField()
    offset_variance = models.FloatField()
    shared_covariance = models.FloatField(help_text="Covariance of offset and slope.")
    slope_variance = models.FloatField()
    tested_low = models.FloatField()
    tested_high = models.FloatField()
    method = models.CharField(max_length=12)
    study = models.ForeignKey(
        AgreementStudy, on_delete=models.PROTECT, null=True, blank=True, related_name="corrections"
    )
    basis = models.CharField(max_length=300, help_text="What it rests on, in words.")
    basis_detail = models.JSONField(
        default=dict, help_text="The correction as it was computed, and the readings it rests on."
    )
    reason = models.CharField(max_length=300)
    brought_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    brought_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    ended_reason = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["instrument", "-number"]
        constraints = [
            models.UniqueConstraint("instrument", "number", name="instrument_correction_number_unique"),
            models.CheckConstraint(condition=Q(slope__gt=0), name="instrument_correction_slope_positive"),
            models.CheckConstraint(
                condition=Q(offset_variance__gte=0) & Q(slope_variance__gte=0),
                name="instrument_correction_variances_not_negative",
            ),
            models.CheckConstraint(
                condition=Q(tested_high__gt=F("tested_low")), name="instrument_correction_range_in_order"
            ),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True) | ~Q(ended_reason=""),
                name="instrument_correction_ended_reason_given",
            ),
        ]

    def __str__(self) -> str:
        return f"revision {self.number} of {self.instrument_name}"

    @property
    def is_standing(self) -> bool:
        """Whether it was not taken out of force; a newer revision may still have replaced it."""
        return self.ended_at is None

    @property
    def in_words(self) -> str:
        """What it does to a reading, with its sign."""
        sign = "−" if self.offset < 0 else "+"
        return f"{sign} {abs(self.offset):.3f} D, × {self.slope:.4f}"
