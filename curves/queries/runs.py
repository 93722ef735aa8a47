"""Process runs as people read them: lists, and one run against its standard."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Count, Q, QuerySet

from curves.models import ProcessRevision, ProcessRun, RevisionState, Roll, RollState, RunTiming
from curves.models.processes import ControlState, TimeRule
from curves.queries.control_strips import RunStrips, run_strips
from curves.queries.revisions import minutes_text, number_text
from curves.queries.run_timers import TimedStep, timings_of
from labsite.accounts.models import AuditRecord, User
from labsite.common.access import is_admin, is_member
from labsite.common.errors import NotFound


@dataclass(frozen=True)
class RunFilter:
    """Which runs are wanted; empty values want all."""

    standard_id: int | None = None
    control_state: str = ""
    operator_id: int | None = None

    def condition(self) -> Q:
        """Return the filter as a condition on runs."""
        wanted = {
            "revision__standard_id": self.standard_id,
            "control_state": self.control_state,
            "operator_id": self.operator_id,
        }
        return Q(**{name: value for name, value in wanted.items() if value})


@dataclass(frozen=True)
class RunRow:
    """One line of a list of runs."""

    run: ProcessRun
    temperature: str
    development_time: str


@dataclass(frozen=True)
class Measured:
    """One thing measured in a run, against what its standard asks for."""

    label: str
    value: str
    aim: str
    deviation: str
    is_within: bool | None


@dataclass(frozen=True)
class RunChange:
    """A correction or a judgement by hand: what was said before and after, and why."""

    record: AuditRecord
    before: str
    after: str


@dataclass(frozen=True)
class RunPage:
    """Everything that a run's page shows."""

    run: ProcessRun
    measured: tuple[Measured, ...]
    rolls: tuple[Roll, ...]
    changes: tuple[RunChange, ...]
    strips: RunStrips
    timings: tuple[tuple[RunTiming, tuple[TimedStep, ...]], ...]
    can_judge: bool
    can_lift: bool
    can_correct: bool
    can_void: bool


def visible_runs(user, wanted: RunFilter | None = None) -> QuerySet[ProcessRun]:
    """Return the runs, each with ``roll_count``; none but for members."""
    if not is_member(user):
        return ProcessRun.objects.none()
    runs = ProcessRun.objects.select_related("revision__standard", "operator")
    wanted = wanted or RunFilter()
    return runs.filter(wanted.condition()).annotate(roll_count=Count("rolls"))


def run_rows(runs: Iterable[ProcessRun]) -> list[RunRow]:
    """Return lines of a list, with temperature (from start to end, °C) and time in words."""
    return [
        RunRow(run, " to ".join(_temperatures(run)), minutes_text(run.development_time_s)) for run in runs
    ]


def run_page(user, run_id: int) -> RunPage:
    """Return what the page of one run shows to this person."""
    run = visible_runs(user).filter(pk=run_id).first()
    if run is None:
        raise NotFound("There is no such run.")
    rolls = tuple(run.rolls.select_related("batch__stock", "member").order_by("id"))
    is_own = run.operator_id == user.pk
    has_accepted = any(roll.state == RollState.ACCEPTED for roll in rolls)
    return RunPage(
        run=run,
        measured=measured_in(run),
        rolls=rolls,
        changes=_changes_of(run),
        strips=run_strips(run),
        timings=tuple(timings_of(run)),
        can_judge=(is_own or is_admin(user)) and not run.is_void,
        can_lift=is_admin(user),
        can_correct=(is_admin(user) or (is_own and not has_accepted)) and not run.is_void,
        can_void=is_admin(user) and not run.is_void,
    )


def measured_in(run: ProcessRun) -> tuple[Measured, ...]:
    """Return temperature and time against the tolerances of the run's revision."""
    revision = run.revision
    aim = f"{revision.temperature_c:g} ± {revision.temperature_tolerance_c:g} °C"
    rows = [
        _measured_temperature(f"Temperature at the {when}", value, aim, revision)
        for when, value in (("start", run.temperature_start_c), ("end", run.temperature_end_c))
    ]
    time_text = minutes_text(run.development_time_s)
    if revision.time_rule == TimeRule.FIXED:
        excess_s = run.development_time_s - revision.development_time_s
        time_aim = f"{minutes_text(revision.development_time_s)} ± {revision.time_tolerance_s} s"
        is_within = abs(excess_s) <= revision.time_tolerance_s
        rows.append(Measured("Developing time", time_text, time_aim, _signed(excess_s, "s"), is_within))
    else:
        rows.append(Measured("Developing time", time_text, revision.get_time_rule_display(), "", None))
    return tuple(rows)


def operators() -> QuerySet[User]:
    """Return everybody who ever recorded a run, for a filter."""
    return User.objects.filter(process_runs__isnull=False).distinct()


def revisions_for_runs() -> QuerySet[ProcessRevision]:
    """Return the process revisions in force, under which new runs are made."""
    return (
        ProcessRevision.objects.filter(state=RevisionState.IN_FORCE)
        .select_related("standard")
        .order_by("standard__name")
    )


def _temperatures(run: ProcessRun) -> list[str]:
    return [number_text(t) for t in (run.temperature_start_c, run.temperature_end_c) if t is not None]


def _measured_temperature(label: str, value: float | None, aim: str, revision: ProcessRevision) -> Measured:
    if value is None:
        return Measured(label, "", aim, "", None)
    excess = value - revision.temperature_c
    # The same slack for binary fractions as the judgement has.
    is_within = abs(excess) <= revision.temperature_tolerance_c + 1e-9
    return Measured(label, number_text(value, "°C"), aim, _signed(round(excess, 3), "°C"), is_within)


def _signed(value: float, unit: str) -> str:
    return f"{value:+g} {unit}".replace("-", "−") if value else f"0 {unit}"


def _changes_of(run: ProcessRun) -> tuple[RunChange, ...]:
    """Return corrections and judgements, newest first: nothing that was said of a run is lost."""
    records = AuditRecord.objects.filter(
        subject_type=ProcessRun._meta.label_lower,
        subject_id=str(run.pk),
        action__in=("correct run", "judge run", "judge run by strip", "void run"),
    ).select_related("actor")
    return tuple(_change(record) for record in records)


LABELS = {
    "ran_on": ("date", str),
    "temperature_start_c": ("temperature at the start", lambda value: number_text(value, "°C")),
    "temperature_end_c": ("temperature at the end", lambda value: number_text(value, "°C")),
    "development_time_s": ("developing time", minutes_text),
    "developer_batch": ("developer batch", str),
    "films_through": ("films through it before", str),
    "notes": ("notes", str),
    "control_state": ("judgement", lambda value: ControlState(value).label),
    "control_reason": ("reason", str),
}


def _change(record: AuditRecord) -> RunChange:
    old, new = record.before or {}, record.after or {}
    changed = [name for name in LABELS if old.get(name) != new.get(name)]

    def told(values: dict) -> str:
        words = []
        for name in changed:
            label, text = LABELS[name]
            value = values.get(name)
            words.append(f"{label} {text(value) if value not in (None, '') else 'not recorded'}")
        return "; ".join(words)

    return RunChange(record, told(old), told(new))
