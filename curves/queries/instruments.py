"""Instruments as people read them."""

from django.db.models import Count, Max, Q, QuerySet

from curves.models import Instrument
from labsite.common.access import is_member
from labsite.common.errors import NotFound


def visible_instruments(user) -> QuerySet[Instrument]:
    """Return the instruments with how much was read with each; none but for members."""
    if not is_member(user):
        return Instrument.objects.none()
    current = Q(readings__is_current=True)
    return Instrument.objects.annotate(
        reading_count=Count("readings", filter=current), last_read_at=Max("readings__read_at", filter=current)
    )


def visible_instrument(user, instrument_id: int) -> Instrument:
    """Return one instrument, or refuse."""
    instrument = visible_instruments(user).filter(pk=instrument_id).first()
    if instrument is None:
        raise NotFound("There is no such instrument.")
    return instrument
