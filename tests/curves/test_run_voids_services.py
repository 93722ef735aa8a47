"""Void runs and wrong instruments: all that rests on them is found, held back, marked and pooled anew."""

from datetime import date, timedelta

import pytest
from django.utils import timezone

from curves.models import (
    Analysis,
    PooledAnalysis,
    ProcessRun,
    Reading,
    RollState,
    SpreadEstimate,
    StockResult,
)
from curves.queries.comparison import comparison_view
from curves.queries.instrument_findings import finding_page
from curves.queries.run_effects import run_effects
from curves.queries.stock_sheet import stock_sheet
from curves.services.instrument_findings import (
    find_instrument_wrong,
    lift_finding,
    override_hold,
    return_for_rereading,
)
from curves.services.readings import ReadingValue, record_readings
from curves.services.references import appoint_reference
from curves.services.reviews import override_control
from curves.services.rolls import assign_run
from curves.services.run_voids import void_run
from curves.services.runs import correct_run, judge_run
from labsite.accounts.models import AuditRecord
from labsite.common.errors import InvalidInput, NotAllowed, WrongState
from labsite.jobs.models import Job
from labsite.jobs.runner import run_waiting_jobs
from tests.factories.instruments import make_instrument
from tests.factories.labs import open_lab
from tests.factories.rolls import make_accepted_roll, make_batch, make_roll, make_run, make_standards
from tests.factories.strips import make_aims, make_strip_batch, next_run, read_as


def build_lab(owner, admin):
    """A stock of two rolls in two runs; it is the house reference."""
    standards = make_standards(admin)
    batch = make_batch(owner)
    runs = [make_run(owner, standards[0]) for _ in range(2)]
    rolls = [
        make_accepted_roll(owner, admin, batch, standards, run=run, seed=seed)
        for seed, run in enumerate(runs, start=1)
    ]
    pair = {"process_revision_id": standards[0].pk, "exposure_revision_id": standards[1].pk}
    appoint_reference(actor=admin, stock_id=batch.stock_id, reason="tested most", **pair)
    run_waiting_jobs()
    return {"standards": standards, "stock": batch.stock, "batch": batch, "runs": runs, "rolls": rolls}


def standing(stock):
    return StockResult.objects.get(stock=stock).pooled


def test_everything_that_rests_on_a_run_is_found(admin, lab):
    resting = run_effects(admin, lab["runs"][0].pk).resting
    roll = lab["rolls"][0]
    assert resting.rolls == (roll,)
    assert [each.pk for each in resting.analyses] == [roll.current_analysis_id]
    assert [each.pooled for each in resting.standing] == [standing(lab["stock"])]
    assert (resting.standing[0].rolls, resting.standing[0].roll_count) == ((roll,), 2)
    assert not resting.standing[0].is_left_without
    assert [each.roll_count for each in resting.past] == [1], "the result of the first roll alone"
    assert [each.stock for each in resting.references] == [lab["stock"]]
    assert [each.is_current for each in resting.spreads] == [True]


def test_a_void_run_holds_its_rolls_back_and_deletes_nothing(admin, lab):
    counts = [model.objects.count() for model in (Analysis, PooledAnalysis, SpreadEstimate, Reading)]
    before = standing(lab["stock"])
    run = void_run(actor=admin, run_id=lab["runs"][0].pk, reason="wrong dilution")
    assert Job.objects.filter(kind="pool_stock", state=Job.State.QUEUED).count() == 1
    run_waiting_jobs()
    after = standing(lab["stock"])
    assert after != before
    assert list(after.analyses.values_list("roll", flat=True)) == [lab["rolls"][1].pk]
    roll = lab["rolls"][0]
    roll.refresh_from_db()
    assert (roll.state, roll.is_held_back) == (RollState.ACCEPTED, True)
    assert roll.held_back_by == "its run is void: wrong dilution"
    left = [model.objects.count() for model in (Analysis, PooledAnalysis, SpreadEstimate, Reading)]
    assert all(now >= then for now, then in zip(left, counts, strict=True))
    assert AuditRecord.objects.get(action="void run", subject_id=str(run.pk)).reason == "wrong dilution"
    assert before in [each.pooled for each in run_effects(admin, run.pk).resting.past]
    shown = stock_sheet(admin, lab["stock"].pk, result_id=before.pk).result
    assert shown.doubted == (roll,), "the past version is marked"


def test_a_void_run_is_final(admin, owner, lab):
    run, roll = lab["runs"][0], lab["rolls"][0]
    ProcessRun.objects.filter(pk=run.pk).update(control_state="out_of_control", control_reason="warm")
    override_control(actor=admin, roll_id=roll.pk, reason="the strip was fine")
    with pytest.raises(InvalidInput):
        void_run(actor=admin, run_id=run.pk, reason=" ")
    with pytest.raises(NotAllowed):
        void_run(actor=owner, run_id=run.pk, reason="mine")
    void_run(actor=admin, run_id=run.pk, reason="wrong dilution")
    roll.refresh_from_db()
    assert roll.control_override_reason == "", "an override answers another judgement"
    kept = {"ran_on": run.ran_on, "temperature_start_c": 20.0, "development_time_s": 510}
    for late in (
        lambda: void_run(actor=admin, run_id=run.pk, reason="again"),
        lambda: override_control(actor=admin, roll_id=roll.pk, reason="all the same"),
        lambda: judge_run(actor=admin, run_id=run.pk, control_state="in_control", reason="x"),
        lambda: correct_run(actor=admin, run_id=run.pk, reason="x", **kept),
    ):
        with pytest.raises(WrongState):
            late()
    planned = make_roll(owner, lab["batch"], lab["standards"])
    with pytest.raises(InvalidInput, match="is void"):
        assign_run(actor=owner, roll_id=planned.pk, run_id=run.pk)


def test_many_rolls_of_a_stock_are_pooled_once(admin, owner, lab):
    run = lab["runs"][0]
    make_accepted_roll(owner, admin, lab["batch"], lab["standards"], run=run, seed=5)
    void_run(actor=admin, run_id=run.pk, reason="wrong dilution")
    assert Job.objects.filter(kind="pool_stock", state=Job.State.QUEUED).count() == 1


def test_a_visitor_finds_sheet_and_comparison_alike_while_a_result_is_pooled_anew(admin, visitor, lab):
    open_lab()
    void_run(actor=admin, run_id=lab["runs"][0].pk, reason="wrong dilution")
    sheet = stock_sheet(visitor, lab["stock"].pk)
    view = comparison_view(visitor)
    assert sheet.result.pooled == standing(lab["stock"])
    assert [each.sentence for each in sheet.repoolings] == [each.sentence for each in view.repoolings]
    assert sheet.repoolings
    run_waiting_jobs()
    sheet = stock_sheet(visitor, lab["stock"].pk)
    assert not sheet.repoolings
    assert [roll.pk for roll in sheet.result.rolls] == [lab["rolls"][1].pk]


def doubt(admin, lab, roll, **days):
    """An instrument that read one roll, found wrong today."""
    instrument = make_instrument(admin)
    Reading.objects.filter(strip__roll=roll).update(instrument=instrument)
    today = timezone.localdate()
    days = {"first_on": today - timedelta(days=2), "last_on": today} | days
    finding = find_instrument_wrong(actor=admin, instrument_id=instrument.pk, reason="zero was off", **days)
    run_waiting_jobs()
    roll.refresh_from_db()
    return finding


def test_what_an_instrument_read_while_it_was_wrong_is_held_back(admin, lab):
    roll, other = lab["rolls"]
    finding = doubt(admin, lab, roll)
    assert roll.is_held_back
    assert "were found wrong: zero was off" in roll.held_back_by
    assert list(standing(lab["stock"]).analyses.values_list("roll", flat=True)) == [other.pk]
    page = finding_page(admin, finding.pk)
    assert page.resting.rolls == (roll,)
    assert page.reading_count == 45


def test_days_without_a_reading_hold_nothing_back(admin, lab):
    day = timezone.localdate() - timedelta(days=30)
    doubt(admin, lab, lab["rolls"][0], first_on=day, last_on=day)
    assert not lab["rolls"][0].is_held_back
    assert not lab["rolls"][0].hold_reason


def test_an_override_of_a_finding_is_told_wherever_the_result_is(admin, owner, lab):
    roll = lab["rolls"][0]
    finding = doubt(admin, lab, roll)
    with pytest.raises(NotAllowed):
        override_hold(actor=owner, roll_id=roll.pk, reason="mine")
    override_hold(actor=admin, roll_id=roll.pk, reason="read twice, once elsewhere")
    run_waiting_jobs()
    assert standing(lab["stock"]).roll_count == 2
    told = (f"{roll.code}: read twice, once elsewhere",)
    assert comparison_view(admin).stocks[0].overrides == told
    override_hold(actor=admin, roll_id=roll.pk, reason="")
    run_waiting_jobs()
    assert standing(lab["stock"]).roll_count == 1
    override_hold(actor=admin, roll_id=roll.pk, reason="all the same")
    lift_finding(actor=admin, finding_id=finding.pk, reason="it was the reference that was off")
    run_waiting_jobs()
    roll.refresh_from_db()
    assert (roll.hold_reason, roll.hold_override_reason) == ("", "")
    assert standing(lab["stock"]).roll_count == 2
    with pytest.raises(WrongState):
        lift_finding(actor=admin, finding_id=finding.pk, reason="again")


def test_a_second_finding_lets_the_override_lapse(admin, lab):
    roll = lab["rolls"][0]
    first = doubt(admin, lab, roll)
    override_hold(actor=admin, roll_id=roll.pk, reason="read twice")
    today = timezone.localdate()
    find_instrument_wrong(
        actor=admin,
        instrument_id=first.instrument_id,
        first_on=today,
        last_on=today,
        reason="filter fell out",
    )
    roll.refresh_from_db()
    assert roll.is_held_back
    assert "filter fell out" in roll.hold_reason


def test_a_roll_read_again_counts_again(admin, owner, lab):
    roll = lab["rolls"][0]
    doubt(admin, lab, roll)
    review = return_for_rereading(actor=admin, roll_id=roll.pk)
    assert "read it again" in review.reasons
    roll.refresh_from_db()
    assert roll.state == RollState.RETURNED
    values = [
        ReadingValue(each.step, each.replicate, round(each.density + 0.01, 2))
        for each in Reading.objects.filter(strip__roll=roll, is_current=True)
    ]
    record_readings(actor=owner, strip_id=roll.strips.get().pk, values=values, reason="read on the other one")
    run_waiting_jobs()
    roll.refresh_from_db()
    assert roll.hold_reason == ""


def test_a_run_whose_strip_was_read_by_it_is_unproven_again(admin, owner, lab):
    process = lab["standards"][0]
    batch = make_strip_batch(admin)
    make_aims(admin, owner, process, batch)
    run = next_run(owner, process)
    instrument = make_instrument(admin)
    read_as(owner, run, batch, instrument_id=instrument.pk)
    today = timezone.localdate()
    finding = find_instrument_wrong(
        actor=admin, instrument_id=instrument.pk, first_on=today, last_on=today, reason="zero was off"
    )
    run.refresh_from_db()
    assert run.control_state == "unproven"
    assert "an instrument that was found wrong" in run.control_reason
    lift_finding(actor=admin, finding_id=finding.pk, reason="it was right")
    run.refresh_from_db()
    assert run.control_state == "in_control"


@pytest.mark.parametrize(
    ("first_on", "last_on", "field"),
    [(date(2026, 5, 2), date(2026, 5, 1), "last_on"), (date(2026, 5, 2), date(2126, 5, 1), "last_on")],
)
def test_days_that_cannot_be_are_refused(admin, owner, first_on, last_on, field):
    instrument = make_instrument(admin)
    given = {"instrument_id": instrument.pk, "first_on": first_on, "last_on": last_on, "reason": "off"}
    with pytest.raises(InvalidInput) as refused:
        find_instrument_wrong(actor=admin, **given)
    assert refused.value.field == field
    with pytest.raises(NotAllowed):
        find_instrument_wrong(actor=owner, **given)
