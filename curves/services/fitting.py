"""A roll's fit: asked for when readings change, stored once for each set of inputs."""

from django.db import transaction

from curves.models import UNEXPOSED_STEP, Analysis, Roll, RollState
from curves.models.rolls import UNDECIDED_STATES
from curves.queries.inputs import digest_of, has_steps, roll_inputs
from curves.sensitometry import Analysis as EngineAnalysis
from curves.services.instrument_findings import renew_hold
from curves.services.pooling import request_pool
from labsite.accounts.services import record_audit
from labsite.common.access import is_admin, require_member
from labsite.common.errors import NotAllowed, NotFound, WrongState
from labsite.jobs.models import Job
from labsite.jobs.services import submit_job


def request_fit(*, roll: Roll, requested_by=None) -> Job:
    """Submit the fit of a roll's standing readings, on commit of the transaction that changed them."""
    return submit_job(
        kind="fit_roll",
        subject={"roll_id": roll.pk},
        label=f"Fit the curve of {roll.code}",
        requested_by=requested_by,
        dedupe_key=f"fit_roll:{roll.pk}",
        link=f"/rolls/{roll.pk}/",
    )


def request_fits_of_undecided(*, requested_by, **condition) -> None:
    """Submit the fits of open rolls whose standing readings meet the condition: some other input changed."""
    rolls = Roll.objects.filter(state__in=UNDECIDED_STATES, strips__readings__is_current=True, **condition)
    for roll in rolls.distinct():
        request_fit(roll=roll, requested_by=requested_by)


@transaction.atomic
def refit_roll(*, actor, roll_id: int) -> Job:
    """Ask anew for an open roll's curve: its last fit failed, was cancelled, or is of an older engine."""
    require_member(actor)
    roll = Roll.objects.select_for_update(of=("self",)).filter(pk=roll_id).first()
    if roll is None:
        raise NotFound("There is no such roll.")
    if roll.member_id != actor.pk and not is_admin(actor):
        raise NotAllowed("Only the roll's member or an admin may ask for its curve.")
    if roll.state not in UNDECIDED_STATES:
        state = roll.get_state_display()
        raise WrongState(f"{roll.code} is {state}; its result stands as it was decided on.")
    if not roll.strips.filter(readings__is_current=True, readings__step__gt=UNEXPOSED_STEP).exists():
        raise WrongState("There are no readings to fit a curve to.", field="readings")
    job = request_fit(roll=roll, requested_by=actor)
    record_audit(actor=actor, action="fit roll again", subject=roll, after={"job": str(job.pk)})
    return job


@transaction.atomic
def store_roll_analysis(*, roll_id: int, input_digest: str, result: EngineAnalysis) -> Analysis:
    """Keep a result, once for each input and engine version, and let it stand if its inputs still do.

    Readings that changed while the fit ran have their own job already: this result is then kept as
    history and does not become the roll's standing one. An accepted roll's stock is pooled anew.
    """
    roll = _locked_with_inputs(roll_id)
    document = result.to_dict()
    measures = document.pop("measures")
    analysis, _ = Analysis.objects.get_or_create(
        roll=roll,
        engine_version=result.engine_version,
        input_digest=input_digest,
        defaults={"measures": measures, "detail": document},
    )
    if roll.current_analysis_id != analysis.pk and digest_of(roll_inputs(roll)) == input_digest:
        roll.current_analysis = analysis
        roll.save(update_fields=["current_analysis", "updated_at"])
        if roll.state == RollState.ACCEPTED:
            request_pool(roll=roll)
    renew_hold(actor=None, roll_id=roll_id)
    return analysis


@transaction.atomic
def clear_roll_analysis(*, roll_id: int) -> None:
    """Let no result stand for a roll whose readings were all taken away, unless there are some again."""
    roll = _locked_with_inputs(roll_id)
    if not has_steps(roll_inputs(roll)):
        roll.current_analysis = None
        roll.save(update_fields=["current_analysis", "updated_at"])


def _locked_with_inputs(roll_id: int) -> Roll:
    locked = Roll.objects.select_for_update(of=("self",)).select_related("exposure_revision", "batch__stock")
    return locked.get(pk=roll_id)
