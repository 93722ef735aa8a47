"""What was read while an instrument was wrong: rolls, control strips, and what rests on them."""

from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Q, QuerySet
from django.utils import timezone

from curves.models import ControlStrip, Instrument, InstrumentFinding, ProcessRun, Reading, Roll
from curves.queries.run_effects import RestingOn, resting_on
from curves.queries.strip_windows import read_between
from labsite.common.access import require_member
from labsite.common.errors import NotFound


@dataclass(frozen=True)
class Period:
    """Days of an instrument, before or after a finding is made of them."""

    instrument_id: int
    first_on: date
    last_on: date
    found_at: datetime

    @property
    def condition(self) -> Q:
        """The readings of those days that were made before it was found."""
        return Q(is_current=True) & read_between(
            self.instrument_id, self.first_on, self.last_on, self.found_at
        )


@dataclass(frozen=True)
class FindingPage:
    """A finding, or days that one is about to be made of, with all that follows."""

    instrument: Instrument
    finding: InstrumentFinding | None
    reading_count: int
    runs: tuple[ProcessRun, ...]
    resting: RestingOn


def period_of(finding: InstrumentFinding) -> Period:
    """Return the days of a finding."""
    return Period(finding.instrument_id, finding.first_on, finding.last_on, finding.found_at)


def standing_findings() -> QuerySet[InstrumentFinding]:
    """Return the findings that were not lifted."""
    return InstrumentFinding.objects.filter(ended_at__isnull=True)


def findings_of(user, instrument: Instrument) -> QuerySet[InstrumentFinding]:
    """Return every finding about an instrument, newest first."""
    require_member(user)
    return instrument.findings.select_related("found_by", "ended_by")


def rolls_read_in(period: InstrumentFinding | Period) -> QuerySet[Roll]:
    """Return the rolls with a reading that counts and was made in the period."""
    period = period_of(period) if isinstance(period, InstrumentFinding) else period
    strips = Reading.objects.filter(period.condition).values("strip__roll")
    return Roll.objects.filter(pk__in=strips)


def runs_read_in(period: InstrumentFinding | Period) -> QuerySet[ProcessRun]:
    """Return the runs with a control strip that was read in the period."""
    period = period_of(period) if isinstance(period, InstrumentFinding) else period
    strips = ControlStrip.objects.filter(period.condition)
    return ProcessRun.objects.filter(pk__in=strips.values("run"))


def findings_about(roll: Roll) -> list[InstrumentFinding]:
    """Return the standing findings that readings of a roll fall under, oldest first."""
    readings = Reading.objects.filter(strip__roll=roll, is_current=True, instrument__isnull=False)
    used = set(readings.values_list("instrument_id", flat=True))
    found = standing_findings().filter(instrument__in=used).select_related("instrument").order_by("pk")
    return [each for each in found if readings.filter(period_of(each).condition).exists()]


def finding_page(user, finding_id: int) -> FindingPage:
    """Return a finding with what it holds back."""
    require_member(user)
    found = InstrumentFinding.objects.select_related("instrument", "found_by", "ended_by")
    finding = found.filter(pk=finding_id).first()
    if finding is None:
        raise NotFound("There is no such finding.")
    return _page(finding.instrument, period_of(finding), finding)


def previewed_finding(user, instrument: Instrument, first_on: date, last_on: date) -> FindingPage:
    """Return what would follow if the instrument were found wrong in these days."""
    require_member(user)
    return _page(instrument, Period(instrument.pk, first_on, last_on, timezone.now()), None)


def _page(instrument: Instrument, period: Period, finding: InstrumentFinding | None) -> FindingPage:
    runs = runs_read_in(period).select_related("revision__standard", "operator").order_by("-ran_on", "-pk")
    return FindingPage(
        instrument=instrument,
        finding=finding,
        reading_count=Reading.objects.filter(period.condition).count(),
        runs=tuple(runs),
        resting=resting_on(rolls_read_in(period)),
    )
