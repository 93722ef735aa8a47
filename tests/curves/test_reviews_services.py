"""The life of a roll after its readings: submitted, returned, accepted, withdrawn, void; and what stands."""

import pytest

from curves.models import PooledAnalysis, Review, RollState, SpreadEstimate, StockResult
from curves.services.reviews import accept_roll, override_control, return_roll, void_roll, withdraw_roll
from curves.services.rolls import plan_roll, recall_roll, submit_roll
from curves.services.runs import correct_run, judge_run
from labsite.accounts.models import AuditRecord, User
from labsite.common.errors import InvalidInput, NotAllowed, WrongState
from labsite.jobs.models import Job
from labsite.jobs.runner import run_waiting_jobs
from tests.factories.rolls import (
    make_accepted_roll,
    make_batch,
    make_read_roll,
    make_roll,
    make_run,
    make_standards,
    make_submitted_roll,
)


@pytest.fixture
def standards(admin):
    return make_standards(admin)


@pytest.fixture
def batch(owner):
    return make_batch(owner)


def test_a_roll_needs_its_run_and_readings_before_it_is_submitted(owner, batch, standards):
    roll = make_roll(owner, batch, standards)
    with pytest.raises(WrongState, match="Record the process run first"):
        submit_roll(actor=owner, roll_id=roll.pk)


def test_a_roll_is_planned_only_under_revisions_in_force(admin, owner, batch, standards):
    process, exposure = standards
    type(process).objects.update(state="superseded")
    with pytest.raises(InvalidInput, match="superseded") as refused:
        plan_roll(
            actor=owner, batch_id=batch.pk, process_revision_id=process.pk, exposure_revision_id=exposure.pk
        )
    assert refused.value.field == "process_revision_id"


def test_a_submitted_roll_can_be_taken_back_by_its_member_only(owner, labmate, batch, standards):
    roll = make_submitted_roll(owner, batch, standards)
    with pytest.raises(NotAllowed):
        recall_roll(actor=labmate, roll_id=roll.pk)
    assert recall_roll(actor=owner, roll_id=roll.pk).state == RollState.DRAFT


def test_only_an_admin_decides(owner, labmate, batch, standards):
    roll = make_submitted_roll(owner, batch, standards)
    for person in (owner, labmate):
        with pytest.raises(NotAllowed):
            accept_roll(actor=person, roll_id=roll.pk)
        with pytest.raises(NotAllowed):
            return_roll(actor=person, roll_id=roll.pk, reasons="No.")
        with pytest.raises(NotAllowed):
            void_roll(actor=person, roll_id=roll.pk, reasons="No.")


def test_nobody_accepts_their_own_roll_unless_alone_and_then_it_says_so(admin, batch, standards):
    roll = make_submitted_roll(admin, batch, standards)
    other = User.objects.create_user(
        "second", "grey-card-18", display_name="Sy Cond", initials="SC", role="admin"
    )
    with pytest.raises(NotAllowed, match="their own roll"):
        accept_roll(actor=admin, roll_id=roll.pk)
    other.is_active = False
    other.save()
    assert "only admin" in accept_roll(actor=admin, roll_id=roll.pk).reasons


def test_a_return_needs_reasons(admin, owner, batch, standards):
    roll = make_submitted_roll(owner, batch, standards)
    with pytest.raises(InvalidInput) as refused:
        return_roll(actor=admin, roll_id=roll.pk, reasons="  ")
    assert refused.value.field == "reasons"


def test_acceptance_pools_the_stock_and_keeps_the_decision(admin, owner, batch, standards):
    roll = make_accepted_roll(owner, admin, batch, standards)
    result = StockResult.objects.get(stock=batch.stock)
    assert result.pooled.roll_count == 1
    assert list(result.pooled.analyses.all()) == [roll.current_analysis]
    review = Review.objects.get()
    assert (review.decision, review.reviewer, review.analysis) == ("accepted", admin, roll.current_analysis)
    assert AuditRecord.objects.filter(action="accepted roll").exists()


def test_pooling_twice_adds_nothing(admin, owner, batch, standards):
    make_accepted_roll(owner, admin, batch, standards)
    Job.objects.filter(kind="pool_stock").update(state="queued", attempts=0)
    assert run_waiting_jobs() == 3, "the pool, the lab's spread that follows it, and the sheet"
    assert PooledAnalysis.objects.count() == SpreadEstimate.objects.count() == 1


def test_a_second_roll_is_pooled_and_a_void_one_falls_out_again(admin, owner, batch, standards):
    first = make_accepted_roll(owner, admin, batch, standards, seed=1)
    second = make_accepted_roll(owner, admin, batch, standards, seed=2)
    assert StockResult.objects.get().pooled.roll_count == 2
    void_roll(actor=admin, roll_id=second.pk, reasons="Light leak.")
    run_waiting_jobs()
    result = StockResult.objects.get()
    assert list(result.pooled.analyses.all()) == [first.current_analysis]
    assert PooledAnalysis.objects.count() == 2, "the pooled result of both rolls is kept as history"


def test_withdrawing_the_only_roll_leaves_no_result_standing(admin, owner, labmate, batch, standards):
    roll = make_accepted_roll(owner, admin, batch, standards)
    with pytest.raises(NotAllowed):
        withdraw_roll(actor=labmate, roll_id=roll.pk, reasons="Mine?")
    withdraw_roll(actor=owner, roll_id=roll.pk, reasons="Batch was heated.")
    run_waiting_jobs()
    assert not StockResult.objects.exists()
    assert PooledAnalysis.objects.exists()


def test_a_roll_of_an_out_of_control_run_is_held_back_until_an_admin_overrides(
    admin, owner, batch, standards
):
    run = make_run(owner, standards[0], temperature_start_c=22.0)
    roll = make_accepted_roll(owner, admin, batch, standards, run=run)
    assert roll.is_held_back
    assert not StockResult.objects.exists()
    override_control(actor=admin, roll_id=roll.pk, reason="The thermometer was wrong, not the tank.")
    run_waiting_jobs()
    assert StockResult.objects.exists()
    override_control(actor=admin, roll_id=roll.pk, reason="")
    run_waiting_jobs()
    assert not StockResult.objects.exists()


def test_a_later_judgement_of_the_run_takes_its_rolls_out_and_lets_them_in_again(
    admin, owner, batch, standards
):
    roll = make_accepted_roll(owner, admin, batch, standards)
    judge_run(actor=admin, run_id=roll.run_id, control_state="out_of_control", reason="Strip 0.1 high.")
    run_waiting_jobs()
    assert not StockResult.objects.exists()
    judge_run(actor=admin, run_id=roll.run_id, control_state="in_control", reason="Strip was misread.")
    run_waiting_jobs()
    assert StockResult.objects.exists()


@pytest.mark.parametrize("lifted_to", ["in_control", "unproven"])
def test_an_override_lapses_with_the_judgement_that_it_answers(admin, owner, batch, standards, lifted_to):
    roll = make_accepted_roll(owner, admin, batch, standards)

    def judge(state, reason):
        judge_run(actor=admin, run_id=roll.run_id, control_state=state, reason=reason)
        roll.refresh_from_db()

    judge("out_of_control", "Strip 0.1 high.")
    override_control(actor=admin, roll_id=roll.pk, reason="The strip was old.")
    judge("out_of_control", "Strip 0.1 high, read by two.")
    assert roll.control_override_reason, "the judgement still stands"
    judge(lifted_to, "A new strip is within 0.03.")
    assert not roll.control_override_reason
    lapse = AuditRecord.objects.get(action="let override lapse")
    assert lapse.before == {"control_override_reason": "The strip was old."}
    judge("out_of_control", "The fixer was exhausted.")
    assert roll.is_held_back
    run_waiting_jobs()
    assert not StockResult.objects.exists()


def test_an_override_lapses_when_the_record_is_corrected(admin, owner, batch, standards):
    run = make_run(owner, standards[0], temperature_start_c=22.0)
    roll = make_accepted_roll(owner, admin, batch, standards, run=run)
    override_control(actor=admin, roll_id=roll.pk, reason="The thermometer was wrong.")
    record = {"ran_on": run.ran_on, "temperature_start_c": 20.0, "development_time_s": run.development_time_s}
    correct_run(actor=admin, run_id=run.pk, reason="typed 22 for 20", **record)
    roll.refresh_from_db()
    assert roll.control_override_reason == "" and not roll.is_held_back


def test_a_roll_is_decided_once(admin, owner, batch, standards):
    roll = make_accepted_roll(owner, admin, batch, standards)
    with pytest.raises(WrongState, match="accepted, not submitted"):
        accept_roll(actor=admin, roll_id=roll.pk)
    with pytest.raises(WrongState):
        override_control(actor=admin, roll_id=roll.pk, reason="Not held back.")


def test_a_draft_is_not_accepted(admin, owner, batch, standards):
    roll = make_read_roll(owner, batch, standards)
    with pytest.raises(WrongState):
        accept_roll(actor=admin, roll_id=roll.pk)
