"""What admins decide on a roll, and what a member takes back; each with its reasons, nothing deleted."""

from django.db import transaction
from django.utils import timezone

from curves.models import ProcessRun, Review, Roll, RollState
from curves.models.processes import ControlState
from curves.queries.inputs import has_current_analysis
from curves.queries.roll_progress import has_other_admin
from curves.services.pooling import request_pool
from labsite.accounts.services import record_audit
from labsite.common.access import is_admin, require_admin, require_member
from labsite.common.errors import InvalidInput, NotAllowed, NotFound, WrongState

SOLE_ADMIN_NOTE = "Accepted by its own member, the lab's only admin."


@transaction.atomic
def accept_roll(
    *,
    actor,
    roll_id: int,
    reasons: str = "",
    control_override_reason: str = "",
    seen_analysis_id: int | None = None,
) -> Review:
    """Accept a submitted roll, so that it enters comparisons unless its run holds it back.

    ``seen_analysis_id`` is the analysis that the reviewer looked at; another by now refuses the decision.
    """
    require_admin(actor)
    roll = _locked(roll_id)
    _require_state(roll, RollState.SUBMITTED)
    _require_seen(roll, seen_analysis_id)
    _lock_run(roll)
    if roll.member_id == actor.pk:
        if has_other_admin(actor):
            raise NotAllowed("Nobody accepts their own roll; another admin has to review it.")
        reasons = f"{reasons.strip()} {SOLE_ADMIN_NOTE}".strip()
    if not has_current_analysis(roll):
        raise WrongState("The curve of these readings is not ready; wait for its job, then accept.")
    _refuse_override_of_void(roll, control_override_reason)
    if control_override_reason.strip() and not _is_out_of_control(roll):
        raise InvalidInput(
            "The run is not out of control, so there is nothing to override; leave this empty.",
            field="control_override_reason",
        )
    roll.control_override_reason = control_override_reason.strip()
    roll.accepted_at = timezone.now()
    review = _decide(roll, RollState.ACCEPTED, actor, reasons, ["control_override_reason", "accepted_at"])
    request_pool(roll=roll, requested_by=actor)
    return review


@transaction.atomic
def return_roll(*, actor, roll_id: int, reasons: str, seen_analysis_id: int | None = None) -> Review:
    """Give a submitted roll back to its member with what to mend."""
    require_admin(actor)
    roll = _locked(roll_id)
    _require_state(roll, RollState.SUBMITTED)
    _require_seen(roll, seen_analysis_id)
    return _decide(roll, RollState.RETURNED, actor, _given(reasons, "Say what the member should mend."))


@transaction.atomic
def withdraw_roll(*, actor, roll_id: int, reasons: str) -> Review:
    """Take an accepted roll out of comparisons at its member's or an admin's wish; it stays readable."""
    require_member(actor)
    roll = _locked(roll_id)
    if roll.member_id != actor.pk and not is_admin(actor):
        raise NotAllowed(
            f"{roll.code} belongs to {roll.member}; only its member or an admin may withdraw it."
        )
    return _end(roll, RollState.WITHDRAWN, actor, reasons)


@transaction.atomic
def void_roll(*, actor, roll_id: int, reasons: str) -> Review:
    """Declare an accepted roll wrong, so that nothing rests on it any more; it stays readable."""
    require_admin(actor)
    return _end(_locked(roll_id), RollState.VOID, actor, reasons)


@transaction.atomic
def override_control(*, actor, roll_id: int, reason: str) -> Roll:
    """Let an accepted roll into comparisons although its run was out of control; no reason: hold it back."""
    require_admin(actor)
    roll = _locked(roll_id)
    _require_state(roll, RollState.ACCEPTED)
    _lock_run(roll)
    if not _is_out_of_control(roll):
        raise WrongState(f"{roll.code} is not held back: its run is not out of control.")
    _refuse_override_of_void(roll, reason)
    before = {"control_override_reason": roll.control_override_reason}
    roll.control_override_reason = reason.strip()
    roll.save(update_fields=["control_override_reason", "updated_at"])
    record_audit(
        actor=actor,
        action="override control",
        subject=roll,
        before=before,
        after={"control_override_reason": roll.control_override_reason},
        reason=reason,
    )
    request_pool(roll=roll, requested_by=actor)
    return roll


def _end(roll: Roll, decision: str, actor, reasons: str) -> Review:
    _require_state(roll, RollState.ACCEPTED)
    review = _decide(roll, decision, actor, _given(reasons, "Say why, for those who relied on it."))
    request_pool(roll=roll, requested_by=actor)
    return review


def _decide(roll: Roll, decision: str, actor, reasons: str, fields: list[str] | None = None) -> Review:
    before = {"state": str(roll.state)}
    roll.state = decision
    roll.save(update_fields=["state", "updated_at", *(fields or [])])
    review = Review.objects.create(
        roll=roll,
        decision=decision,
        reasons=reasons.strip(),
        reviewer=actor,
        analysis_id=roll.current_analysis_id,
    )
    record_audit(
        actor=actor,
        action=f"{RollState(decision).label} roll",
        subject=roll,
        before=before,
        after={"state": str(decision), "analysis": roll.current_analysis_id},
        reason=reasons,
    )
    return review


def _locked(roll_id: int) -> Roll:
    roll = (
        Roll.objects.select_for_update(of=("self",))
        .select_related("batch__stock", "exposure_revision", "process_revision", "run", "member")
        .filter(pk=roll_id)
        .first()
    )
    if roll is None:
        raise NotFound("There is no such roll.")
    return roll


def _lock_run(roll: Roll) -> None:
    """Let a judgement of the run that is under way end first: it pools only what it finds accepted."""
    if roll.run_id is not None:
        roll.run = ProcessRun.objects.select_for_update(no_key=True).get(pk=roll.run_id)


def _require_state(roll: Roll, state: str) -> None:
    if roll.state != state:
        raise WrongState(f"{roll.code} is {roll.get_state_display()}, not {RollState(state).label}.")


def _require_seen(roll: Roll, analysis_id: int | None) -> None:
    if analysis_id is not None and analysis_id != roll.current_analysis_id:
        raise WrongState(f"{roll.code} has changed since you opened it. Look at it again, then decide.")


def _is_out_of_control(roll: Roll) -> bool:
    return roll.run is not None and roll.run.control_state == ControlState.OUT_OF_CONTROL


def _refuse_override_of_void(roll: Roll, reason: str) -> None:
    if reason.strip() and roll.run is not None and roll.run.is_void:
        raise WrongState(f"Run {roll.run_id} is void: {roll.run.void_reason}. Nothing can rest on it.")


def _given(reasons: str, message: str) -> str:
    if not reasons.strip():
        raise InvalidInput(message, field="reasons")
    return reasons
