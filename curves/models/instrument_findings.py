"""Times in which an instrument was found to have read wrongly."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from curves.models.instruments import Instrument


class InstrumentFinding(models.Model):
    """An admin's finding that an instrument was wrong from one day to another; taken back, never deleted."""

    instrument = models.ForeignKey(Instrument, on_delete=models.PROTECT, related_name="findings")
    first_on = models.DateField()
    last_on = models.DateField()
    reason = models.CharField(max_length=300)
    found_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    found_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    ended_reason = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(last_on__gte=F("first_on")), name="instrument_finding_days_in_order"
            ),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True) | ~Q(ended_reason=""),
                name="instrument_finding_ended_reason_given",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.instrument}, {self.first_on:%Y-%m-%d} to {self.last_on:%Y-%m-%d}"

    @property
    def in_words(self) -> str:
        """What it says, as it is told beside each result that it holds back."""
        return (
            f"readings by {self.instrument} from {self.first_on:%Y-%m-%d} to {self.last_on:%Y-%m-%d} "
            f"were found wrong: {self.reason}"
        )
