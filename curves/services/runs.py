"""Process runs: recorded as they really went, and judged against their revision at once."""

from datetime import date

from django.db import transaction
from django.utils import timezone

from curves.models import ProcessRevision, ProcessRun, RevisionState, Roll, RollState
from curves.models.processes import ControlState, TimeRule
from curves.queries.revisions import minutes_text
from curves.services.pooling import request_pool
from curves.services.processes import HIGHEST_C, LONGEST_S, LOWEST_C, SHORTEST_S
from curves.services.strip_judging import judged_by_strips, kept_by_strips
from labsite.accounts.services import record_audit
from labsite.accounts.services.changes import check_fields
from labsite.common.access import is_admin, require_member
from labsite.common.errors import InvalidInput, NotAllowed, NotFound, WrongState

RECORDED = (
    "ran_on",
    "temperature_start_c",
    "temperature_end_c",
    "development_time_s",
    "developer_batch",
    "films_through",
    "notes",
)


@transaction.atomic
def record_run(
    *,
    actor,
    revision_id: int,
    ran_on: date,
    temperature_start_c: float,
    development_time_s: int,
    temperature_end_c: float | None = None,
    developer_batch: str = "",
    films_through: int = 0,
    notes: str = "",
) -> ProcessRun:
    """Record one tank or machine load under a revision in force, and judge it by its tolerances."""
    require_member(actor)
    revision = ProcessRevision.objects.select_related("standard").filter(pk=revision_id).first()
    if revision is None:
        raise NotFound("There is no such process revision.", field="revision_id")
    if revision.state == RevisionState.DRAFT:
        raise InvalidInput(
            f"{revision} is still a draft; an admin has to put it in force first.", field="revision_id"
        )
    run = ProcessRun(
        revision=revision,
        operator=actor,
        ran_on=ran_on,
        temperature_start_c=temperature_start_c,
        temperature_end_c=temperature_end_c,
        development_time_s=development_time_s,
        developer_batch=developer_batch.strip(),
        films_through=films_through,
        notes=notes.strip(),
    )
    check_fields(run, *RECORDED, also=_implausible(run))
    run.control_state, run.control_reason = judged_by_tolerances(run)
    run.save()
    record_audit(actor=actor, action="record run", subject=run, after=as_audited(run))
    return run


@transaction.atomic
def correct_run(
    *,
    actor,
    run_id: int,
    reason: str,
    ran_on: date,
    temperature_start_c: float,
    development_time_s: int,
    temperature_end_c: float | None = None,
    developer_batch: str = "",
    films_through: int = 0,
    notes: str = "",
) -> ProcessRun:
    """Mend a slip of the pen in a run's record, with the reason, and judge it anew.

    What somebody judged by hand stands, unless the mended record breaks a tolerance.
    """
    run = locked_own_run(actor=actor, run_id=run_id)
    refuse_void(run)
    if not is_admin(actor) and run.rolls.filter(state=RollState.ACCEPTED).exists():
        raise NotAllowed("Accepted results rest on this run, so only an admin may correct it.")
    if not reason.strip():
        raise InvalidInput("Say what was wrong with the record.", field="reason")
    before = as_audited(run)
    was_by_hand = is_judged_by_hand(run)
    run.ran_on = ran_on
    run.temperature_start_c = temperature_start_c
    run.temperature_end_c = temperature_end_c
    run.development_time_s = development_time_s
    run.developer_batch = developer_batch.strip()
    run.films_through = films_through
    run.notes = notes.strip()
    check_fields(run, *RECORDED, also=_implausible(run))
    run.save(update_fields=list(RECORDED))  # the strips before it are found by what the record says
    judgement = judged_by_record(run)
    if was_by_hand and judged_by_tolerances(run)[0] != ControlState.OUT_OF_CONTROL:
        judgement = run.control_state, run.control_reason
    keep_judgement(
        actor=actor, run=run, judgement=judgement, action="correct run", reason=reason, before=before
    )
    return run


@transaction.atomic
def judge_run(*, actor, run_id: int, control_state: str, reason: str) -> ProcessRun:
    """State by hand, with the reason, whether a run was in control.

    The operator may say what a control strip showed; only an admin may lift "out of control".
    """
    run = locked_own_run(actor=actor, run_id=run_id)
    refuse_void(run)
    if control_state not in ControlState.values:
        raise InvalidInput("Choose unproven, in control or out of control.", field="control_state")
    if not reason.strip():
        raise InvalidInput("Say what showed it: the strip read, or the rule that was broken.", field="reason")
    broken, rule = judged_by_tolerances(run)
    stands_out = ControlState.OUT_OF_CONTROL in (run.control_state, broken)
    if stands_out and control_state != ControlState.OUT_OF_CONTROL and not is_admin(actor):
        raise NotAllowed(
            "Only an admin may lift “out of control”. Tell them why, or correct the record if it is wrong."
        )
    said = reason.strip() if not rule else f"{reason.strip()} ({rule})"
    keep_judgement(actor=actor, run=run, judgement=(control_state, said), action="judge run", reason=reason)
    return run


def keep_judgement(
    *, actor, run: ProcessRun, judgement: tuple[str, str], action: str, reason: str, before=None
) -> None:
    """Keep a run's state and reason with the history, and let all follow that rests on the state."""
    before = before or as_audited(run)
    run.control_state, run.control_reason = judgement
    run.save(update_fields=["control_state", "control_reason"])
    record_audit(actor=actor, action=action, subject=run, before=before, after=as_audited(run), reason=reason)
    _let_overrides_lapse(run, before["control_state"], actor, reason)
    _pool_again_where_it_counts(run, before["control_state"], actor)


def judged_by_record(run: ProcessRun) -> tuple[str, str]:
    """Return state and reason by all that was measured: a broken tolerance first, then the strips."""
    return _together(judged_by_tolerances(run), judged_by_strips(run))


def is_judged_by_hand(run: ProcessRun) -> bool:
    """Whether somebody said otherwise than what was measured says."""
    judged = _together(judged_by_tolerances(run), kept_by_strips(run))
    return (run.control_state, run.control_reason) != judged


def _together(by_tolerances: tuple[str, str], by_strips: tuple[str, str]) -> tuple[str, str]:
    broken, rule = by_tolerances
    if broken != ControlState.OUT_OF_CONTROL:
        return by_strips
    if by_strips[0] == ControlState.OUT_OF_CONTROL:
        return broken, f"{rule}; {by_strips[1]}"
    return broken, rule


def judged_by_tolerances(run: ProcessRun) -> tuple[str, str]:
    """Return the control state that temperature and time alone prove, and the rule broken if any.

    Within tolerance is no proof of control (that takes a control strip), so the best is unproven.
    """
    revision = run.revision
    for when, temperature_c in (("start", run.temperature_start_c), ("end", run.temperature_end_c)):
        if temperature_c is None:
            continue
        excess = abs(temperature_c - revision.temperature_c)
        if excess > revision.temperature_tolerance_c + 1e-9:
            return ControlState.OUT_OF_CONTROL, (
                f"temperature at the {when} {temperature_c:g} °C is outside "
                f"{revision.temperature_c:g} ± {revision.temperature_tolerance_c:g} °C"
            )
    if revision.time_rule == TimeRule.FIXED:
        excess_s = abs(run.development_time_s - revision.development_time_s)
        if excess_s > revision.time_tolerance_s:
            return ControlState.OUT_OF_CONTROL, (
                f"developing time {minutes_text(run.development_time_s)} is outside "
                f"{minutes_text(revision.development_time_s)} ± {minutes_text(revision.time_tolerance_s)}"
            )
    return ControlState.UNPROVEN, ""


def locked_own_run(*, actor, run_id: int) -> ProcessRun:
    """Return a run and its rolls locked, for its operator or an admin."""
    require_member(actor)
    # Rolls before their run, as whoever decides on a roll does, so that neither waits for the other.
    list(Roll.objects.select_for_update().filter(run=run_id).order_by("pk").values_list("pk"))
    run = (
        ProcessRun.objects.select_for_update(of=("self",))
        .select_related("revision__standard")
        .filter(pk=run_id)
        .first()
    )
    if run is None:
        raise NotFound("There is no such run.")
    if run.operator_id != actor.pk and not is_admin(actor):
        raise NotAllowed("Only the run's operator or an admin may correct or judge it.")
    return run


def refuse_void(run: ProcessRun) -> None:
    """Refuse to go on with a run on which nothing may rest any more."""
    if run.is_void:
        raise WrongState(f"Run {run.pk} is void: {run.void_reason}. Its record stays as it is.")


def _implausible(run: ProcessRun) -> tuple[dict, ...]:
    """Return what cannot have happened; what breaks a tolerance did happen, and is judged."""
    problems = []
    for field in ("temperature_start_c", "temperature_end_c"):
        value = getattr(run, field)
        if value is not None and not LOWEST_C <= value <= HIGHEST_C:
            message = f"{value:g} °C is no developing temperature; enter {LOWEST_C:g} to {HIGHEST_C:g} °C."
            problems.append({"field": field, "message": message})
    if not SHORTEST_S <= run.development_time_s <= LONGEST_S:
        message = f"Enter the developing time as {SHORTEST_S} s to {LONGEST_S // 3600} h."
        problems.append({"field": "development_time_s", "message": message})
    if run.ran_on > timezone.localdate():
        problems.append({"field": "ran_on", "message": "This day is still to come."})
    return tuple(problems)


def _let_overrides_lapse(run: ProcessRun, state_before: str, actor, reason: str) -> None:
    """An override answers one judgement: once that is lifted, the next one holds the rolls back again."""
    if state_before == run.control_state == ControlState.OUT_OF_CONTROL:
        return
    for roll in run.rolls.exclude(control_override_reason="").order_by("pk"):
        before = {"control_override_reason": roll.control_override_reason}
        roll.control_override_reason = ""
        roll.save(update_fields=["control_override_reason", "updated_at"])
        record_audit(
            actor=actor,
            action="let override lapse",
            subject=roll,
            before=before,
            after={"control_override_reason": ""},
            reason=reason,
        )


def _pool_again_where_it_counts(run: ProcessRun, state_before: str, actor) -> None:
    """A changed judgement lets accepted rolls in or holds them back, so their stocks are pooled anew."""
    out = ControlState.OUT_OF_CONTROL
    if (state_before == out) == (run.control_state == out):
        return
    for roll in run.rolls.filter(state=RollState.ACCEPTED).select_related("batch__stock"):
        request_pool(roll=roll, requested_by=actor)


def as_audited(run: ProcessRun) -> dict:
    """Return a run as the history tells it."""
    return {
        "revision": str(run.revision),
        **{name: getattr(run, name) for name in RECORDED},
        "control_state": str(run.control_state),
        "control_reason": run.control_reason,
    }
