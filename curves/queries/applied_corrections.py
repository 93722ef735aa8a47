"""Which revision of an instrument's correction a reading has: the newest that stands and covers its day."""

from collections.abc import Iterable
from datetime import date, datetime

from django.utils import timezone

from curves.models import InstrumentCorrection
from curves.sensitometry.density_corrections import EDGE


def standing_corrections(instrument_ids: Iterable[int]) -> dict[int, list[InstrumentCorrection]]:
    """Return instrument → its corrections that were not taken out of force, newest revision first."""
    found: dict[int, list[InstrumentCorrection]] = {}
    wanted = set(instrument_ids)
    if not wanted:
        return found
    standing = InstrumentCorrection.objects.filter(instrument__in=wanted, ended_at__isnull=True)
    for correction in standing.defer("basis_detail").order_by("-number"):
        found.setdefault(correction.instrument_id, []).append(correction)
    return found


def correction_on(newest_first: Iterable[InstrumentCorrection], day: date) -> InstrumentCorrection | None:
    """Return the revision that applies to what was read on a day; None where none does."""
    return next((each for each in newest_first if each.applies_from_on <= day), None)


def correction_of(
    corrections: dict[int, list[InstrumentCorrection]], instrument_id: int | None, read_at: datetime
) -> InstrumentCorrection | None:
    """Return the revision that applies to one reading."""
    if instrument_id not in corrections:
        return None
    return correction_on(corrections[instrument_id], timezone.localdate(read_at))


def corrected_value(correction: InstrumentCorrection, density: float) -> float | None:
    """Return a density on the reference's scale; None beyond what the correction was tested on."""
    if not correction.tested_low - EDGE <= density <= correction.tested_high + EDGE:
        return None
    return correction.offset + correction.slope * density


def correction_numbers(correction: InstrumentCorrection) -> dict:
    """Return what a result depends on, as it is kept in the canonical inputs."""
    return {
        "title": str(correction),
        "instrument": correction.instrument_id,
        "revision": correction.number,
        "offset": correction.offset,
        "slope": correction.slope,
        "covariance": [
            [correction.offset_variance, correction.shared_covariance],
            [correction.shared_covariance, correction.slope_variance],
        ],
        "tested": [correction.tested_low, correction.tested_high],
    }
