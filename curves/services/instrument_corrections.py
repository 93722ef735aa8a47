"""Corrections of instruments: brought into force from a day, replaced, taken out; results follow by jobs."""

from datetime import date

from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from curves.models import AgreementStudy, Instrument, InstrumentCorrection
from curves.queries.instrument_corrections import rolls_read_from
from curves.queries.study_results import Proposal, chosen_reference, study_proposal, study_results
from curves.sensitometry.agreeing.instrument_correction import Correction
from curves.services.fitting import request_fit
from labsite.accounts.services import record_audit
from labsite.accounts.services.changes import check_fields
from labsite.common.access import require_admin
from labsite.common.errors import InvalidInput, NotFound, WrongState

CHANGED = (
    "The readings of the study, or what they are held against, are not those that you looked at. "
    "Look at the correction as it is now, and bring it into force again."
)


@transaction.atomic
def correct_by_study(
    *,
    actor,
    study_id: int,
    instrument_id: int,
    reference: str,
    applies_from_on: date,
    reason: str,
    seen: str = "",
) -> InstrumentCorrection:
    """Bring into force what a closed study proposes for an instrument.

    ``seen`` is the mark of the proposal that the admin looked at; another by now refuses the decision.
    """
    require_admin(actor)
    study = AgreementStudy.objects.select_for_update(of=("self",)).select_related("tablet_revision__tablet")
    study = study.filter(pk=study_id).first()
    if study is None:
        raise NotFound("There is no such study.")
    if study.is_open:
        raise WrongState("Close the study first: a correction rests on readings that do not change.")
    results = study_results(study)
    proposal = study_proposal(results, chosen_reference(results, reference), instrument_id)
    if seen and seen != proposal.seen:
        raise WrongState(CHANGED, code="stale")
    return bring_into_force(
        actor=actor,
        instrument_id=instrument_id,
        correction=proposal.correction,
        applies_from_on=applies_from_on,
        reason=reason,
        basis=_basis_of(study, proposal),
        basis_detail={
            "reference": proposal.reference.title,
            "steps": list(proposal.comparison.steps),
            "readings": sorted(each.pk for each in results.readings),
            "cautions": list(proposal.cautions),
        },
        study=study,
    )


@transaction.atomic
def bring_into_force(
    *,
    actor,
    instrument_id: int,
    correction: Correction,
    applies_from_on: date,
    reason: str,
    basis: str,
    basis_detail: dict | None = None,
    study: AgreementStudy | None = None,
) -> InstrumentCorrection:
    """Correct an instrument's readings from a day on; a revision that there was applies up to that day."""
    require_admin(actor)
    instrument = _locked_instrument(instrument_id)
    if not correction.is_known:
        why = correction.offset.note or correction.offset.reason
        raise InvalidInput(f"There is no correction to bring into force: {why}.", field="instrument_id")
    if not reason.strip():
        raise InvalidInput("Say why it is brought into force.", field="reason")
    last = instrument.corrections.aggregate(last=Max("number"))["last"] or 0
    (of_offset, shared), (_, of_slope) = correction.covariance
    low, high = correction.tested
    made = InstrumentCorrection(
        instrument=instrument,
        instrument_name=instrument.name,
        number=last + 1,
        applies_from_on=applies_from_on,
        offset=correction.offset.value,
        slope=correction.slope.value,
        offset_variance=of_offset,
        shared_covariance=shared,
        slope_variance=of_slope,
        tested_low=low,
        tested_high=high,
        method=correction.method,
        study=study,
        basis=basis,
        basis_detail={**(basis_detail or {}), "correction": correction.to_dict()},
        reason=reason.strip(),
        brought_by=actor,
        brought_at=timezone.now(),
    )
    check_fields(made, "reason", "basis")
    made.save()
    record_audit(
        actor=actor,
        action="bring correction into force",
        subject=made,
        after={"instrument": instrument.name, "from": str(applies_from_on), "line": made.in_words},
        reason=reason,
    )
    _follow(actor, made)
    return made


@transaction.atomic
def take_out_of_force(*, actor, correction_id: int, reason: str) -> InstrumentCorrection:
    """Correct by this revision no more: its readings fall back to the revision before it, or to as read."""
    require_admin(actor)
    found = InstrumentCorrection.objects.filter(pk=correction_id).first()
    if found is None:
        raise NotFound("There is no such correction.")
    _locked_instrument(found.instrument_id)
    correction = InstrumentCorrection.objects.select_for_update().get(pk=correction_id)
    if not correction.is_standing:
        raise WrongState("This revision is out of force already.")
    if not reason.strip():
        raise InvalidInput("Say why it is taken out of force.", field="reason")
    correction.ended_at, correction.ended_by = timezone.now(), actor
    correction.ended_reason = reason.strip()
    check_fields(correction, "ended_reason")
    correction.save(update_fields=["ended_at", "ended_by", "ended_reason"])
    record_audit(actor=actor, action="take correction out of force", subject=correction, reason=reason)
    _follow(actor, correction)
    return correction


def _follow(actor, correction: InstrumentCorrection) -> None:
    """Have every roll that was read since that day fitted anew, decided ones too; pooling follows each."""
    rolls = rolls_read_from(correction.instrument_id, correction.applies_from_on)
    for roll in rolls.order_by("pk"):
        job = request_fit(roll=roll, requested_by=actor)
        record_audit(
            actor=actor,
            action="fit roll again",
            subject=roll,
            after={"job": str(job.pk)},
            reason=f"{correction} was {'brought into' if correction.is_standing else 'taken out of'} force",
        )


def _basis_of(study: AgreementStudy, proposal: Proposal) -> str:
    return f"{study.name}: {proposal.basis}"[:300]


def _locked_instrument(instrument_id: int) -> Instrument:
    instrument = Instrument.objects.select_for_update().filter(pk=instrument_id).first()
    if instrument is None:
        raise NotFound("There is no such instrument.")
    return instrument
