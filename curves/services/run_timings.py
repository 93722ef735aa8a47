"""Times of a run as the timer measured them, or as they were mended by hand with a reason."""

from collections.abc import Mapping
from datetime import datetime

from django.db import transaction

from curves.models import ProcessRevision, ProcessRun, RunTiming
from curves.queries.run_timers import TITLES, timer_steps
from curves.services.processes import LONGEST_S, SHORTEST_S
from curves.services.runs import RECORDED, correct_run, locked_own_run, record_run, refuse_void
from labsite.accounts.services import record_audit
from labsite.common.access import require_member
from labsite.common.errors import InvalidInput

LONGEST_STEP_S = 4 * LONGEST_S


@transaction.atomic
def record_run_times(
    *,
    actor,
    run_id: int,
    measured_s: Mapping[str, int | None],
    started_at: datetime | None = None,
    reason: str = "",
) -> RunTiming:
    """Keep how long each step of a run took; a second time says why it differs from the first.

    The developing time of the run becomes the measured one, and the run is judged by it.
    """
    run = locked_own_run(actor=actor, run_id=run_id)
    refuse_void(run)
    _check(measured_s)
    former = run.timings.filter(is_current=True).first()
    if former is not None and not reason.strip():
        raise InvalidInput("Say why the times differ from those that were measured.", field="reason")
    timing = _kept(actor, run, measured_s, started_at, reason, former)
    develop_s = measured_s["develop"]
    if develop_s != run.development_time_s:
        recorded = {name: getattr(run, name) for name in RECORDED} | {"development_time_s": develop_s}
        why = reason.strip() or "Developing time as the run timer measured it."
        correct_run(actor=actor, run_id=run.pk, reason=why, **recorded)
    return timing


@transaction.atomic
def record_timed_run(
    *,
    actor,
    revision_id: int,
    measured_s: Mapping[str, int | None],
    started_at: datetime | None = None,
    **recorded,
) -> ProcessRun:
    """Record a run with the times that the timer measured; ``recorded`` is the rest of its record."""
    require_member(actor)
    _check(measured_s)
    run = record_run(
        actor=actor, revision_id=revision_id, development_time_s=measured_s["develop"], **recorded
    )
    _kept(actor, run, measured_s, started_at, "", None)
    return run


def _kept(actor, run, measured_s, started_at, reason: str, former: RunTiming | None) -> RunTiming:
    if former is not None:
        former.is_current = False
        former.save(update_fields=["is_current"])
    revision = ProcessRevision.objects.get(pk=run.revision_id)
    planned = {step.key: step.planned_s for step in timer_steps(revision, run.development_time_s)}
    steps = [
        {"step": step, "planned_s": planned[step], "measured_s": measured_s[step]}
        for step in TITLES
        if measured_s.get(step) is not None
    ]
    timing = RunTiming.objects.create(
        run=run, steps=steps, started_at=started_at, reason=reason.strip(), recorded_by=actor
    )
    record_audit(
        actor=actor,
        action="record run times",
        subject=run,
        before={"steps": former.steps} if former else None,
        after={"steps": steps},
        reason=reason,
    )
    return timing


def _check(measured_s: Mapping[str, int | None]) -> None:
    problems = []
    for step, seconds in measured_s.items():
        if step not in TITLES:
            problems.append({"field": step, "message": f"Steps are {', '.join(TITLES)}."})
        elif seconds is not None and not 0 < seconds <= LONGEST_STEP_S:
            message = f"Enter up to {LONGEST_STEP_S // 3600} hours, or leave it empty."
            problems.append({"field": step, "message": message})
    develop_s = measured_s.get("develop")
    if develop_s is None or not SHORTEST_S <= develop_s <= LONGEST_S:
        message = f"Enter the developing time as {SHORTEST_S} s to {LONGEST_S // 3600} h."
        problems.append({"field": "develop", "message": message})
    if problems:
        raise InvalidInput(problems[0]["message"], field=problems[0]["field"], problems=tuple(problems))
