"""Process runs: recorded as they really went, and judged against their revision at once."""

from datetime import date

from django.db import transaction

from curves.models import ProcessRevision, ProcessRun, RevisionState
from curves.models.processes import ControlState, TimeRule
from curves.services.pooling import request_pool
from labsite.accounts.services import record_audit
from labsite.common.access import is_admin, require_admin, require_member
from labsite.common.errors import InvalidInput, NotAllowed, NotFound

# Outside these no black-and-white process is run; a value there is a slip of the pen (28 for 20 is
# caught by the revision's tolerance, 200 for 20.0 here). Common practice, no source.
LOWEST_C, HIGHEST_C = 10.0, 45.0


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
    revision = ProcessRevision.objects.filter(pk=revision_id).first()
    if revision is None:
        raise NotFound("There is no such process revision.", field="revision")
    if revision.state == RevisionState.DRAFT:
        raise InvalidInput(
            f"{revision} is still a draft; an admin has to put it in force first.", field="revision"
        )
    run = ProcessRun(
        revision=revision,
        ran_on=ran_on,
        operator=actor,
        temperature_start_c=temperature_start_c,
        temperature_end_c=temperature_end_c,
        development_time_s=development_time_s,
        developer_batch=developer_batch.strip(),
        films_through=films_through,
        notes=notes.strip(),
    )
    _check_plausible(run)
    run.control_state, run.control_reason = judged_by_tolerances(run)
    run.save()
    record_audit(actor=actor, action="record run", subject=run, after=_as_audited(run))
    return run


@transaction.atomic
def judge_run(*, actor, run_id: int, control_state: str, reason: str) -> ProcessRun:
    """State by hand, with the reason, whether a run was in control.

    The operator may say what a control strip showed; only an admin may overrule a broken tolerance.
    """
    require_member(actor)
    run = (
        ProcessRun.objects.select_for_update(of=("self",))
        .select_related("revision")
        .filter(pk=run_id)
        .first()
    )
    if run is None:
        raise NotFound("There is no such run.")
    if run.operator_id != actor.pk and not is_admin(actor):
        raise NotAllowed("Only the run's operator or an admin may judge it.")
    if control_state not in ControlState.values:
        raise InvalidInput("Choose unproven, in control or out of control.", field="control_state")
    if not reason.strip():
        raise InvalidInput("Say what showed it: the strip read, or the rule that was broken.", field="reason")
    broken, rule = judged_by_tolerances(run)
    if broken == ControlState.OUT_OF_CONTROL and control_state != ControlState.OUT_OF_CONTROL:
        require_admin(actor)
    before = _as_audited(run)
    run.control_state = control_state
    run.control_reason = reason.strip() if not rule else f"{reason.strip()} ({rule})"
    run.save(update_fields=["control_state", "control_reason"])
    record_audit(
        actor=actor, action="judge run", subject=run, before=before, after=_as_audited(run), reason=reason
    )
    _pool_again_where_it_counts(run, actor)
    return run


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
                f"developing time {run.development_time_s} s is outside "
                f"{revision.development_time_s} ± {revision.time_tolerance_s} s"
            )
    return ControlState.UNPROVEN, ""


def _check_plausible(run: ProcessRun) -> None:
    for field in ("temperature_start_c", "temperature_end_c"):
        value = getattr(run, field)
        if value is not None and not LOWEST_C <= value <= HIGHEST_C:
            raise InvalidInput(
                f"{value:g} °C is no developing temperature; enter {LOWEST_C:g} to {HIGHEST_C:g} °C.",
                field=field,
            )
    if not 10 <= run.development_time_s <= 7200:
        raise InvalidInput("Enter the developing time as 10 s to 2 h.", field="development_time_s")


def _pool_again_where_it_counts(run: ProcessRun, actor) -> None:
    """A changed judgement lets accepted rolls in or holds them back, so their stocks are pooled anew."""
    for roll in run.rolls.filter(state="accepted").select_related("batch"):
        request_pool(roll=roll, requested_by=actor)


def _as_audited(run: ProcessRun) -> dict:
    return {
        "revision": str(run.revision),
        "ran_on": run.ran_on.isoformat(),
        "temperature_start_c": run.temperature_start_c,
        "temperature_end_c": run.temperature_end_c,
        "development_time_s": run.development_time_s,
        "developer_batch": run.developer_batch,
        "films_through": run.films_through,
        "control_state": str(run.control_state),
        "control_reason": run.control_reason,
    }
