"""Corrections of instruments as people read them, and the rolls and results that follow one."""

from dataclasses import dataclass
from datetime import date, datetime, time

from django.db.models import QuerySet
from django.utils import timezone

from curves.models import Instrument, InstrumentCorrection, Reading, Roll
from curves.queries.applied_corrections import correction_on, standing_corrections
from curves.queries.inputs import inputs_of_rolls, rolls_with_current_analysis
from curves.queries.run_effects import RestingOn, resting_on
from labsite.common.access import require_member
from labsite.common.errors import InvalidInput, NotFound

#: Days that an instrument's readings may be corrected from; beyond them a day is a slip of the pen.
FIRST_YEAR, LAST_YEAR = 1900, 2200


@dataclass(frozen=True)
class ListedCorrection:
    """One revision, with what it says of itself now."""

    correction: InstrumentCorrection
    replaced_by: InstrumentCorrection | None
    applies_until_on: date | None

    @property
    def state(self) -> str:
        """In a word or two: whether it applies, and to what."""
        if not self.correction.is_standing:
            return "taken out of force"
        if self.replaced_by is None:
            return "in force"
        if self.applies_until_on is None:
            return "replaced"
        return "in force for earlier readings"


@dataclass(frozen=True)
class CorrectionEffects:
    """The readings that a correction is about, and what rests on the rolls that have them."""

    reading_count: int
    beyond_count: int
    resting: RestingOn
    waiting: tuple[Roll, ...]


def instrument_corrections(user, instrument: Instrument) -> list[ListedCorrection]:
    """Return every revision of an instrument's correction, newest first."""
    require_member(user)
    rows = instrument.corrections.select_related("instrument", "study", "brought_by", "ended_by")
    rows = list(rows.order_by("-number"))
    return [_listed(row, [each for each in rows if each.number > row.number]) for row in rows]


def _listed(row: InstrumentCorrection, newer: list[InstrumentCorrection]) -> ListedCorrection:
    standing = [each for each in newer if each.is_standing]
    if not row.is_standing or not standing:
        return ListedCorrection(row, None, None)
    first = min(standing, key=lambda each: (each.applies_from_on, -each.number))
    until = first.applies_from_on if first.applies_from_on > row.applies_from_on else None
    return ListedCorrection(row, first, until)


def visible_correction(user, correction_id: int) -> ListedCorrection:
    """Return one revision, or refuse."""
    require_member(user)
    found = InstrumentCorrection.objects.select_related("instrument").filter(pk=correction_id).first()
    if found is None:
        raise NotFound("There is no such correction.")
    rows = instrument_corrections(user, found.instrument)
    return next(each for each in rows if each.correction.pk == correction_id)


def correction_words(instrument: Instrument) -> str:
    """Return what is made of the instrument's readings of today before they enter a fit."""
    standing = standing_corrections([instrument.pk]).get(instrument.pk, ())
    found = correction_on(standing, timezone.localdate())
    return f"corrected by revision {found.number} ({found.in_words})" if found else "as read"


def readings_from(instrument_id: int, day: date) -> QuerySet[Reading]:
    """Return the readings that count and were made with an instrument on a day or later."""
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        text = f"Give a day of the years {FIRST_YEAR} to {LAST_YEAR}."
        raise InvalidInput(text, field="applies_from_on")
    start = datetime.combine(day, time.min, tzinfo=timezone.get_current_timezone())
    return Reading.objects.filter(instrument=instrument_id, is_current=True, read_at__gte=start)


def rolls_read_from(instrument_id: int, day: date) -> QuerySet[Roll]:
    """Return the rolls with such a reading."""
    strips = readings_from(instrument_id, day).values("strip__roll")
    return Roll.objects.filter(pk__in=strips)


def correction_effects(
    user, instrument: Instrument, day: date, tested: tuple[float, float]
) -> CorrectionEffects:
    """Return what follows, or would, if the instrument's readings were corrected from a day on."""
    require_member(user)
    readings = readings_from(instrument.pk, day)
    rolls = rolls_read_from(instrument.pk, day)
    fitted = list(
        rolls.filter(current_analysis__isnull=False)
        .select_related("exposure_revision", "batch__stock", "current_analysis")
        .order_by("pk")
    )
    current = rolls_with_current_analysis(fitted)
    low, high = tested
    return CorrectionEffects(
        reading_count=readings.count(),
        beyond_count=readings.exclude(density__gte=low, density__lte=high).count(),
        resting=resting_on(rolls),
        waiting=tuple(roll for roll in fitted if roll.pk not in current),
    )


def corrections_of_roll(roll: Roll) -> list[str]:
    """Return the names of the revisions that the roll's standing readings have now."""
    return [each["title"] for each in inputs_of_rolls([roll])[roll.pk].get("corrections", ())]
