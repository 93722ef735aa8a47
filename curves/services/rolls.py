"""Test rolls from the plan to the submission; what admins decide is in ``reviews``."""

from datetime import date

from django.db import transaction
from django.utils import timezone

from curves.models import (
    Batch,
    ExposureRevision,
    ProcessRevision,
    ProcessRun,
    Remark,
    RevisionState,
    Roll,
    RollState,
    Strip,
)
from curves.queries.inputs import has_current_analysis
from curves.services.runs import record_run
from labsite.accounts.services import record_audit
from labsite.common.access import require_member
from labsite.common.errors import InvalidInput, NotAllowed, NotFound, WrongState


@transaction.atomic
def plan_roll(
    *,
    actor,
    batch_id: int,
    exposure_revision_id: int,
    process_revision_id: int,
    exposed_on: date | None = None,
    notes: str = "",
) -> Roll:
    """Plan a test roll under two revisions in force, with its first strip."""
    require_member(actor)
    batch = Batch.objects.filter(pk=batch_id).first()
    if batch is None:
        raise InvalidInput("Choose the batch of the film.", field="batch_id")
    exposure = _in_force(ExposureRevision, exposure_revision_id, "exposure_revision_id")
    process = _in_force(ProcessRevision, process_revision_id, "process_revision_id")
    roll = Roll.objects.create(
        batch=batch,
        exposure_revision=exposure,
        process_revision=process,
        member=actor,
        exposed_on=exposed_on,
        notes=notes.strip(),
    )
    _new_strip(roll, number=1)
    record_audit(
        actor=actor,
        action="plan roll",
        subject=roll,
        after={"batch": str(batch), "exposure": str(exposure), "process": str(process)},
    )
    return roll


@transaction.atomic
def edit_roll(*, actor, roll_id: int, exposed_on: date | None, notes: str) -> Roll:
    """Change what a draft says about itself; its standards stay, since its readings rest on them."""
    roll = locked_own_roll(actor=actor, roll_id=roll_id)
    before = {"exposed_on": str(roll.exposed_on or ""), "notes": roll.notes}
    roll.exposed_on, roll.notes = exposed_on, notes.strip()
    roll.save(update_fields=["exposed_on", "notes", "updated_at"])
    after = {"exposed_on": str(roll.exposed_on or ""), "notes": roll.notes}
    record_audit(actor=actor, action="edit roll", subject=roll, before=before, after=after)
    return roll


@transaction.atomic
def add_strip(*, actor, roll_id: int) -> Strip:
    """Add another exposure of the tablet to a draft roll."""
    roll = locked_own_roll(actor=actor, roll_id=roll_id)
    last = roll.strips.order_by("-number").first()
    if last is not None and last.number >= 9:
        raise InvalidInput("A roll holds at most nine strips; plan another roll.")
    strip = _new_strip(roll, number=1 if last is None else last.number + 1)
    record_audit(actor=actor, action="add strip", subject=roll, after={"strip": strip.number})
    return strip


@transaction.atomic
def assign_run(*, actor, roll_id: int, run_id: int) -> Roll:
    """Say in which process run the roll was developed; the run must be under the roll's revision."""
    roll = locked_own_roll(actor=actor, roll_id=roll_id)
    run = ProcessRun.objects.select_related("revision").filter(pk=run_id).first()
    if run is None:
        raise InvalidInput("Choose a run of the list.", field="run_id")
    if run.is_void:
        raise InvalidInput(f"Run {run.pk} is void: {run.void_reason}. Choose another.", field="run_id")
    if run.revision_id != roll.process_revision_id:
        raise InvalidInput(
            f"That run was made under {run.revision}; this roll is planned for {roll.process_revision}. "
            "Choose a run of the same revision, or plan the roll anew.",
            field="run_id",
        )
    before = {"run": roll.run_id}
    roll.run = run
    roll.save(update_fields=["run", "updated_at"])
    record_audit(actor=actor, action="assign run", subject=roll, before=before, after={"run": run.pk})
    return roll


@transaction.atomic
def record_roll_run(*, actor, roll_id: int, **recorded) -> Roll:
    """Record the run in which a roll was developed, under the roll's revision, and assign it.

    What was ``recorded`` are the arguments of ``record_run``.
    """
    roll = locked_own_roll(actor=actor, roll_id=roll_id)
    run = record_run(actor=actor, revision_id=roll.process_revision_id, **recorded)
    return assign_run(actor=actor, roll_id=roll_id, run_id=run.pk)


@transaction.atomic
def submit_roll(*, actor, roll_id: int) -> Roll:
    """Hand a roll to the admins; it needs its run, its readings and a curve of just these readings."""
    roll = locked_own_roll(actor=actor, roll_id=roll_id)
    if roll.run_id is None:
        raise WrongState("Record the process run first: without it nobody knows the conditions.", field="run")
    if not roll.strips.filter(readings__is_current=True, readings__step__gt=0).exists():
        raise WrongState("Enter the readings first.", field="readings")
    if not has_current_analysis(roll):
        raise WrongState("The curve of these readings is not ready yet; submit when its job is done.")
    roll.state = RollState.SUBMITTED
    roll.submitted_at = timezone.now()
    roll.save(update_fields=["state", "submitted_at", "updated_at"])
    record_audit(
        actor=actor, action="submit roll", subject=roll, after={"analysis": roll.current_analysis_id}
    )
    return roll


@transaction.atomic
def recall_roll(*, actor, roll_id: int) -> Roll:
    """Take a submitted roll back to change it, as long as nobody has decided."""
    roll = _locked(roll_id)
    _require_own(actor, roll)
    if roll.state != RollState.SUBMITTED:
        raise WrongState(
            f"{roll.code} is {roll.get_state_display()}; only a submitted roll can be taken back."
        )
    roll.state = RollState.DRAFT
    roll.save(update_fields=["state", "updated_at"])
    record_audit(actor=actor, action="recall roll", subject=roll)
    return roll


@transaction.atomic
def remark_on_roll(*, actor, roll_id: int, text: str) -> Remark:
    """Leave a note on a roll for the whole lab."""
    require_member(actor)
    roll = _locked(roll_id)
    if not text.strip():
        raise InvalidInput("Write the remark first.", field="text")
    remark = Remark.objects.create(roll=roll, author=actor, text=text.strip())
    record_audit(actor=actor, action="remark on roll", subject=roll, after={"text": remark.text})
    return remark


def locked_own_roll(*, actor, roll_id: int) -> Roll:
    """Return the roll, locked for this transaction, if the actor may change it now."""
    roll = _locked(roll_id)
    _require_own(actor, roll)
    if not roll.is_editable:
        raise WrongState(
            f"{roll.code} is {roll.get_state_display()} and can't be changed; "
            "take it back, or ask an admin to return it, first."
        )
    return roll


def _locked(roll_id: int) -> Roll:
    roll = (
        Roll.objects.select_for_update(of=("self",))
        .select_related("batch__stock", "process_revision__standard", "exposure_revision", "member")
        .filter(pk=roll_id)
        .first()
    )
    if roll is None:
        raise NotFound("There is no such roll.")
    return roll


def _require_own(actor, roll: Roll) -> None:
    require_member(actor)
    if roll.member_id != actor.pk:
        raise NotAllowed(f"{roll.code} belongs to {roll.member}; only its member may change it.")


def _in_force(model, pk: int, field: str):
    revision = model.objects.filter(pk=pk).first()
    if revision is None:
        raise InvalidInput("Choose a revision that is in force.", field=field)
    if revision.state != RevisionState.IN_FORCE:
        raise InvalidInput(f"{revision} is {revision.get_state_display()}; choose one in force.", field=field)
    return revision


def _new_strip(roll: Roll, *, number: int) -> Strip:
    """The strip keeps the calibration it was exposed with, whatever the tablet's later ones say."""
    tablet = roll.exposure_revision.tablet
    calibration = tablet.revisions.filter(state=RevisionState.IN_FORCE).first()
    if calibration is None:
        raise InvalidInput(
            f"Tablet {tablet} has no calibration in force; an admin has to enter one.",
            field="exposure_revision_id",
        )
    return Strip.objects.create(roll=roll, number=number, tablet_revision=calibration)
