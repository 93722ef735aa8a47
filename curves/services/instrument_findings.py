"""Times in which an instrument read wrongly: what was read then is held back until read again or let in."""

from datetime import date

from django.db import transaction
from django.utils import timezone

from curves.models import Instrument, InstrumentFinding, ProcessRun, Review, Roll, RollState
from curves.queries.instrument_findings import findings_about, rolls_read_in, runs_read_in
from curves.services.control_strips import judge_by_strips
from curves.services.pooling import request_pool
from labsite.accounts.services import record_audit
from labsite.accounts.services.changes import check_fields
from labsite.common.access import require_admin
from labsite.common.errors import InvalidInput, NotFound, WrongState


@transaction.atomic
def find_instrument_wrong(
    *, actor, instrument_id: int, first_on: date, last_on: date, reason: str
) -> InstrumentFinding:
    """State that an instrument was wrong from one day to another; what rests on its readings is held back."""
    require_admin(actor)
    instrument = Instrument.objects.select_for_update().filter(pk=instrument_id).first()
    if instrument is None:
        raise NotFound("There is no such instrument.")
    finding = InstrumentFinding(
        instrument=instrument,
        first_on=first_on,
        last_on=last_on,
        reason=reason.strip(),
        found_by=actor,
        found_at=timezone.now(),
    )
    check_fields(finding, "reason", also=tuple(_problems(first_on, last_on)))
    finding.save()
    record_audit(
        actor=actor,
        action="find instrument wrong",
        subject=finding,
        after={"instrument": instrument.name, "first_on": str(first_on), "last_on": str(last_on)},
        reason=reason,
    )
    _follow(actor, finding, reason=f"{instrument} was found wrong: {finding.reason}")
    return finding


@transaction.atomic
def lift_finding(*, actor, finding_id: int, reason: str) -> InstrumentFinding:
    """Take a finding back: it stays on record, and holds nothing back any more."""
    require_admin(actor)
    finding = InstrumentFinding.objects.select_for_update(of=("self",)).select_related("instrument")
    finding = finding.filter(pk=finding_id).first()
    if finding is None:
        raise NotFound("There is no such finding.")
    if finding.ended_at is not None:
        raise WrongState("This finding is lifted already.")
    if not reason.strip():
        raise InvalidInput("Say why the readings are good after all.", field="reason")
    finding.ended_at, finding.ended_by, finding.ended_reason = timezone.now(), actor, reason.strip()
    check_fields(finding, "ended_reason")
    finding.save(update_fields=["ended_at", "ended_by", "ended_reason"])
    record_audit(actor=actor, action="lift instrument finding", subject=finding, reason=reason)
    _follow(actor, finding, reason=f"The finding about {finding.instrument} was lifted: {reason.strip()}")
    return finding


@transaction.atomic
def override_hold(*, actor, roll_id: int, reason: str) -> Roll:
    """Let a roll into comparisons although its readings are doubted; without a reason, hold it back again."""
    require_admin(actor)
    roll = _locked(roll_id)
    if not roll.hold_reason:
        raise WrongState(f"Nothing was found wrong with the readings of {roll.code}.")
    before = {"hold_override_reason": roll.hold_override_reason}
    roll.hold_override_reason = reason.strip()
    roll.save(update_fields=["hold_override_reason", "updated_at"])
    record_audit(
        actor=actor,
        action="override hold",
        subject=roll,
        before=before,
        after={"hold_override_reason": roll.hold_override_reason},
        reason=reason,
    )
    _pool_where_it_counts(actor, roll)
    return roll


@transaction.atomic
def return_for_rereading(*, actor, roll_id: int) -> Review:
    """Give an accepted roll that is held back for its readings back to its member, to be read again."""
    require_admin(actor)
    roll = _locked(roll_id)
    if roll.state != RollState.ACCEPTED or not roll.hold_reason:
        raise WrongState(f"{roll.code} is no accepted roll with doubted readings.")
    roll.state = RollState.RETURNED
    roll.save(update_fields=["state", "updated_at"])
    asked = f"Please read it again: {roll.hold_reason}."
    review = Review.objects.create(
        roll=roll,
        decision=RollState.RETURNED,
        reasons=asked,
        reviewer=actor,
        analysis_id=roll.current_analysis_id,
    )
    record_audit(
        actor=actor,
        action="return roll for rereading",
        subject=roll,
        before={"state": str(RollState.ACCEPTED)},
        after={"state": str(RollState.RETURNED)},
        reason=asked,
    )
    request_pool(roll=roll, requested_by=actor)
    return review


@transaction.atomic
def renew_hold(*, actor, roll_id: int) -> Roll:
    """Say anew what is wrong with a roll's readings, now that they, or the findings, are others.

    An override answers what was known when it was given: once more is found wrong, it lapses.
    """
    roll = _locked(roll_id)
    found = findings_about(roll)
    told = "; ".join(finding.in_words for finding in found)
    if told == roll.hold_reason:
        return roll
    before = {"hold_reason": roll.hold_reason, "hold_override_reason": roll.hold_override_reason}
    is_more = any(finding.in_words not in roll.hold_reason for finding in found)
    roll.hold_reason = told
    if not told or is_more:
        roll.hold_override_reason = ""
    roll.save(update_fields=["hold_reason", "hold_override_reason", "updated_at"])
    after = {"hold_reason": roll.hold_reason, "hold_override_reason": roll.hold_override_reason}
    record_audit(actor=actor, action="renew hold", subject=roll, before=before, after=after)
    _pool_where_it_counts(actor, roll)
    return roll


def _follow(actor, finding: InstrumentFinding, *, reason: str) -> None:
    """Let the rolls that were read then, and the runs whose strips were, say what is found."""
    for roll_id in rolls_read_in(finding).order_by("pk").values_list("pk", flat=True):
        renew_hold(actor=actor, roll_id=roll_id)
    runs = runs_read_in(finding).filter(voided_at__isnull=True)
    locked = ProcessRun.objects.select_for_update(of=("self",)).select_related("revision__standard")
    for run in locked.filter(pk__in=list(runs.values_list("pk", flat=True))).order_by("ran_on", "pk"):
        judge_by_strips(actor=actor, run=run, reason=reason)


def _pool_where_it_counts(actor, roll: Roll) -> None:
    if roll.state == RollState.ACCEPTED:
        request_pool(roll=roll, requested_by=actor)


def _locked(roll_id: int) -> Roll:
    rolls = Roll.objects.select_for_update(of=("self",)).select_related("batch__stock", "run")
    roll = rolls.filter(pk=roll_id).first()
    if roll is None:
        raise NotFound("There is no such roll.")
    return roll


def _problems(first_on: date, last_on: date) -> list[dict]:
    problems = []
    if last_on < first_on:
        problems.append({"field": "last_on", "message": "The last day comes before the first."})
    if last_on > timezone.localdate():
        problems.append({"field": "last_on", "message": "This day is still to come; nothing was read on it."})
    return problems
