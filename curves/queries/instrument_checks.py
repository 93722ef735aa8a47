"""How instruments stand by their checks: in order, due, overdue, off, drifting, or never checked."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import QuerySet
from django.utils import timezone

from curves.models import Instrument, InstrumentCheck, RevisionState, TabletRevision
from curves.queries.instruments import visible_instrument
from curves.sensitometry.agreeing.check_trend import FINDINGS, LEVELS, CheckTrend, check_trend
from labsite.common.access import is_admin, require_member
from labsite.common.errors import NotAllowed, NotFound

#: Days before it is due on which a check is called due; house rule.
DUE_SOON_DAYS = 7
READING_SD = 0.005
OFF = ("zero_off", "span_off", "bent")
STATES = {
    "in_order": "in order",
    "due": "due",
    "overdue": "overdue",
    "off": "off",
    "drifting": "drifting",
    "no_check": "no check",
    "not_planned": "not checked regularly",
    "by_calibration": "by its calibrations",
}


@dataclass(frozen=True)
class CheckState:
    """How one instrument stands."""

    instrument: Instrument
    key: str
    due_on: date | None
    last: InstrumentCheck | None
    trend: CheckTrend | None
    checks: tuple[InstrumentCheck, ...]
    others: tuple[InstrumentCheck, ...]

    @property
    def words(self) -> str:
        """The state in a word or two."""
        return STATES[self.key]

    @property
    def findings(self) -> tuple[str, ...]:
        """What the checks find, in plain words."""
        return tuple(FINDINGS[key] for key in self.trend.findings) if self.trend else ()

    @property
    def is_failing(self) -> bool:
        """Whether the last check was beyond the tolerance."""
        return self.key == "off"

    @property
    def is_waiting(self) -> bool:
        """Whether somebody has to do something."""
        return self.key in ("due", "overdue", "off", "drifting", "no_check")

    @property
    def doubted_from(self) -> date | None:
        """The first day whose readings the failing check puts in doubt: that of the last good one."""
        if not self.is_failing:
            return None
        for place in range(len(self.checks) - 2, -1, -1):
            trend = _trend(self.instrument, self.checks[: place + 1])
            if not any(key in OFF for key in trend.findings):
                return self.checks[place].checked_on
        return min(timezone.localdate(self.instrument.created_at), self.checks[0].checked_on)


def check_states(instruments: Iterable[Instrument]) -> dict[int, CheckState]:
    """Return instrument → its state, by one query for any number of them."""
    instruments = list(instruments)
    checks: dict[int, list[InstrumentCheck]] = defaultdict(list)
    for check in _standing().filter(instrument__in=[each.pk for each in instruments]):
        checks[check.instrument_id].append(check)
    return {each.pk: _state(each, checks[each.pk]) for each in instruments}


def waiting_checks() -> list[CheckState]:
    """Return the instruments in use that somebody has to look after, by two queries."""
    in_use = Instrument.objects.filter(is_active=True).order_by("name")
    return [state for state in check_states(in_use).values() if state.is_waiting]


@dataclass(frozen=True)
class CheckPage:
    """One instrument with all its checks."""

    state: CheckState
    struck: tuple[InstrumentCheck, ...]
    may_find: bool


def check_page(user, instrument_id: int) -> CheckPage:
    """Return an instrument's checks: the series that its state rests on, others, and those struck out."""
    require_member(user)
    instrument = visible_instrument(user, instrument_id)
    struck = instrument.checks.filter(is_current=False).select_related(
        "checked_by", "tablet_revision__tablet"
    )
    return CheckPage(check_states([instrument])[instrument.pk], tuple(struck), is_admin(user))


def check_to_strike(user, check_id: int) -> InstrumentCheck:
    """Return a check that this person may strike out."""
    require_member(user)
    checks = InstrumentCheck.objects.select_related("instrument")
    check = checks.filter(pk=check_id).first()
    if check is None:
        raise NotFound("There is no such check.")
    if check.checked_by_id != user.pk and not is_admin(user):
        raise NotAllowed("Only who made the check, or an admin, may strike it out.")
    return check


def tablets_to_check_on() -> QuerySet[TabletRevision]:
    """Return the calibrations in force, by tablet."""
    in_force = TabletRevision.objects.filter(state=RevisionState.IN_FORCE)
    return in_force.select_related("tablet").prefetch_related("steps").order_by("tablet__name")


def _standing() -> QuerySet[InstrumentCheck]:
    checks = InstrumentCheck.objects.filter(is_current=True).order_by("checked_on", "pk")
    return checks.select_related("checked_by", "tablet_revision__tablet")


def _state(instrument: Instrument, checks: list[InstrumentCheck]) -> CheckState:
    """By the newest check of the kind of density that the instrument reads now, and those alike."""
    kind = (instrument.density_type, instrument.geometry)
    own = [check for check in checks if (check.density_type, check.geometry) == kind]
    series = tuple(check for check in own if check.series == own[-1].series)
    others = tuple(check for check in checks if check not in series)
    last = series[-1] if series else None
    trend = _trend(instrument, series) if series else None
    due_on = None
    if instrument.check_every_days and last:
        due_on = last.checked_on + timedelta(days=instrument.check_every_days)
    return CheckState(instrument, _key(instrument, trend, due_on), due_on, last, trend, series, others)


def _key(instrument: Instrument, trend: CheckTrend | None, due_on: date | None) -> str:
    if instrument.kind == Instrument.Kind.SCANNER:
        return "by_calibration"
    if trend is None:
        return "no_check" if instrument.check_every_days else "not_planned"
    if any(key in OFF for key in trend.findings):
        return "off"
    if trend.findings:
        return "drifting"
    today = timezone.localdate()
    if due_on is None or today < due_on - timedelta(days=DUE_SOON_DAYS):
        return "in_order"
    return "overdue" if today > due_on else "due"


def _trend(instrument: Instrument, checks: Iterable[InstrumentCheck]) -> CheckTrend:
    """Each check by its own certificate: what a later calibration moved is no drift of the instrument."""
    checks = list(checks)
    levels = checks[-1].by_level
    certified = {level: (levels[level]["certified"], levels[level]["certified_sd"]) for level in LEVELS}
    readings = {
        level: [
            certified[level][0] + check.by_level[level]["density"] - check.by_level[level]["certified"]
            for check in checks
        ]
        for level in LEVELS
    }
    days = [check.checked_on.toordinal() for check in checks]
    return check_trend(days, readings, certified, reading_sd=instrument.reading_sd or READING_SD)
