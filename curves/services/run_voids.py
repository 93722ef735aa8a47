"""A run declared wrong: nothing is deleted, nothing rests on it any more, and all that did is pooled anew."""

from django.db import transaction
from django.utils import timezone

from curves.models import ProcessRun
from curves.models.processes import ControlState
from curves.services.pooling import request_pool
from curves.services.runs import as_audited, locked_own_run, refuse_void
from labsite.accounts.services import record_audit
from labsite.common.access import require_admin
from labsite.common.errors import InvalidInput


@transaction.atomic
def void_run(*, actor, run_id: int, reason: str) -> ProcessRun:
    """Declare a run void: its rolls are held back for good, overrides lapse, their stocks are pooled anew."""
    require_admin(actor)
    run = locked_own_run(actor=actor, run_id=run_id)
    refuse_void(run)
    if not reason.strip():
        raise InvalidInput("Say what was wrong, for those who relied on it.", field="reason")
    before = as_audited(run)
    run.voided_at, run.voided_by, run.void_reason = timezone.now(), actor, reason.strip()
    run.control_state, run.control_reason = ControlState.OUT_OF_CONTROL, f"void: {reason.strip()}"
    run.save(update_fields=["voided_at", "voided_by", "void_reason", "control_state", "control_reason"])
    record_audit(
        actor=actor, action="void run", subject=run, before=before, after=as_audited(run), reason=reason
    )
    rolls = list(run.rolls.select_related("batch__stock").order_by("pk"))
    for roll in rolls:
        if roll.control_override_reason:
            _let_override_lapse(actor, roll, reason)
    for roll in _one_of_each_standing(rolls):
        request_pool(roll=roll, requested_by=actor)
    return run


def _let_override_lapse(actor, roll, reason: str) -> None:
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


def _one_of_each_standing(rolls: list) -> list:
    """A stock under a pair of standards is pooled once, however many of its rolls were in the run."""
    accepted = {
        (roll.batch.stock_id, roll.process_revision_id, roll.exposure_revision_id): roll
        for roll in rolls
        if roll.state == "accepted"
    }
    return list(accepted.values())
