"""Grain and sharpness taken into a roll, and ended: by its member before review, by an admin after it."""

from django.db import transaction
from django.utils import timezone

from curves.models import Roll, RollState
from curves.models.picture_measures import PictureMeasure
from curves.queries.picture_measures import FromPicture
from curves.queries.roll_progress import has_other_admin
from curves.services.sheets import request_sheet
from labsite.accounts.services import record_audit
from labsite.accounts.services.changes import check_fields
from labsite.common.access import is_admin, require_member
from labsite.common.errors import InvalidInput, NotAllowed, NotFound, WrongState

LONGEST_REASON = 300
FIELDS = (
    "name",
    "value",
    "low",
    "high",
    "note",
    "rig",
    "rig_digest",
    "source_key",
    "source_name",
    "source_url",
)


@transaction.atomic
def take_picture_measure(*, actor, roll_id: int, found: FromPicture) -> PictureMeasure:
    """Let a number stand for a roll's grain or sharpness by its rig; the same one twice adds nothing."""
    roll = _locked_roll(actor, roll_id)
    standing = roll.picture_measures.filter(
        name=found.name, rig_digest=found.rig_digest, is_current=True
    ).first()
    if standing is not None and standing.source_key == found.source_key:
        return standing
    if standing is not None:
        _end(standing, actor, f"Read anew from {found.source_name}.")
    told = {name: getattr(found, name) for name in FIELDS}
    told["note"], told["rig"] = told["note"][:200], told["rig"][:300]
    measure = PictureMeasure(roll=roll, engine_version=found.engine_version, taken_by=actor, **told)
    check_fields(measure, *FIELDS)
    measure.save()
    record_audit(
        actor=actor,
        action="take picture measure",
        subject=measure,
        before={"value": standing.value} if standing else None,
        after={"roll": roll.code, "name": found.name, "value": found.value, "rig": measure.rig},
    )
    _publish_sheet_of(roll)
    return measure


@transaction.atomic
def end_picture_measure(*, actor, roll_id: int, measure_id: int, reason: str) -> PictureMeasure:
    """Let a number stand for its roll no longer; it stays on record with the reason."""
    roll = _locked_roll(actor, roll_id)
    measure = roll.picture_measures.select_for_update(of=("self",)).filter(pk=measure_id).first()
    if measure is None:
        raise NotFound("This roll has no such measure.")
    if not measure.is_current:
        raise WrongState("This measure was ended already.")
    if not reason.strip():
        raise InvalidInput("Say why it no longer stands; whoever used it will read this.", field="reason")
    if len(reason.strip()) > LONGEST_REASON:
        raise InvalidInput(f"Say it in at most {LONGEST_REASON} characters.", field="reason")
    _end(measure, actor, reason.strip())
    record_audit(actor=actor, action="end picture measure", subject=measure, reason=reason)
    return measure


@transaction.atomic
def end_measures_from(*, actor, source_keys: list[str], reason: str) -> int:
    """End whatever rests on these sources, whatever its roll's state: the source itself was found wrong."""
    resting = PictureMeasure.objects.select_for_update().filter(source_key__in=source_keys, is_current=True)
    for measure in resting:
        _end(measure, actor, reason)
        record_audit(actor=actor, action="end picture measure", subject=measure, reason=reason)
    return len(resting)


def _end(measure: PictureMeasure, actor, reason: str) -> None:
    measure.is_current = False
    measure.ended_at, measure.ended_by, measure.ended_reason = timezone.now(), actor, reason[:300]
    measure.save(update_fields=["is_current", "ended_at", "ended_by", "ended_reason"])
    _publish_sheet_of(measure.roll)


def _publish_sheet_of(roll: Roll) -> None:
    """Grain and sharpness of a roll that counts are on its stock's sheet."""
    if roll.state == RollState.ACCEPTED:
        request_sheet(
            stock_id=roll.batch.stock_id,
            process_revision_id=roll.process_revision_id,
            exposure_revision_id=roll.exposure_revision_id,
        )


def _locked_roll(actor, roll_id: int) -> Roll:
    """The roll, if this person may say what stands for it now; or refuse."""
    require_member(actor)
    roll = Roll.objects.select_for_update(of=("self",)).select_related("member").filter(pk=roll_id).first()
    if roll is None:
        raise NotFound("There is no such roll.")
    if roll.is_editable:
        if roll.member_id != actor.pk:
            raise NotAllowed(f"{roll.code} belongs to {roll.member}; only its member may change it.")
        return roll
    if roll.state != RollState.ACCEPTED:
        raise WrongState(f"{roll.code} is {roll.get_state_display()} and can't be changed now.")
    if not is_admin(actor):
        raise NotAllowed(f"{roll.code} is accepted; only an admin may change what stands for it.")
    if roll.member_id == actor.pk and has_other_admin(actor):
        raise NotAllowed("Nobody decides on their own accepted roll; another admin has to do this.")
    return roll
