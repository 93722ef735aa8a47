"""Control strips: read, judged in the same breath, struck out; what they say and what stands above them."""

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from curves.models import ControlStrip, ProcessRun, RollState, StripJudgement
from curves.models.processes import ControlState
from curves.services.control_strips import add_strip_batch, read_strip, strike_strip
from curves.services.runs import correct_run, judge_run
from labsite.accounts.models import AuditRecord
from labsite.common.errors import InvalidInput, NotAllowed, NotFound, WrongState
from labsite.jobs.models import Job
from tests.factories.instruments import make_instrument
from tests.factories.rolls import make_run
from tests.factories.standards import make_exposure, make_process
from tests.factories.standing import roll_row
from tests.factories.strips import AS_USUAL, make_aims, make_strip_batch, next_run, read_as


@pytest.fixture
def process(admin):
    return make_process(admin)


@pytest.fixture
def batch(admin):
    return make_strip_batch(admin)


def state_of(run):
    run.refresh_from_db()
    return run.control_state


def test_a_strip_without_aims_proves_nothing_and_says_why(owner, process, batch):
    run = make_run(owner, process)
    read_as(owner, run, batch)
    assert state_of(run) == ControlState.UNPROVEN
    assert run.control_reason.startswith("control strip: no aims are set")
    assert StripJudgement.objects.get(run=run).reason_code == "NO_AIMS"


def test_a_strip_as_usual_shows_its_run_in_control(admin, owner, process, batch):
    aims = make_aims(admin, owner, process, batch)
    run = next_run(owner, process)
    read_as(owner, run, batch)
    assert state_of(run) == ControlState.IN_CONTROL
    assert run.control_reason == "control strip: no rule is broken on any step"
    judgement = StripJudgement.objects.get(run=run)
    assert (judgement.aims, judgement.state) == (aims, "in_control")
    # 0.28 against the mean of ten with a spread of 0.01 each: within four standard errors of zero.
    assert abs(judgement.verdict["deviations"]["base_fog"]["difference"]["value"]) < 0.013
    assert AuditRecord.objects.filter(action="judge run by strip", subject_id=str(run.pk)).exists()


def test_a_dense_strip_is_out_with_its_rule_its_step_and_likely_causes(admin, owner, process, batch):
    make_aims(admin, owner, process, batch)
    run = next_run(owner, process)
    read_as(owner, run, batch, off={"high_step": 0.15, "dmax": 0.2, "speed_step": 0.06, "base_fog": 0.01})
    assert state_of(run) == ControlState.OUT_OF_CONTROL
    assert "Contrast: high less speed step" in run.control_reason
    assert "One point lies beyond three standard deviations." in run.control_reason
    verdict = StripJudgement.objects.get(run=run).verdict
    assert "overdevelopment" in [cause["key"] for cause in verdict["causes"]]


def test_replicates_are_one_point_their_mean(admin, owner, process, batch):
    make_aims(admin, owner, process, batch)
    run = next_run(owner, process)
    read_as(owner, run, batch, off={"dmax": 0.3})
    assert state_of(run) == ControlState.OUT_OF_CONTROL
    second = read_as(owner, run, batch, off={"dmax": -0.3})
    assert second.replicate == 2
    assert state_of(run) == ControlState.IN_CONTROL
    verdict = StripJudgement.objects.get(run=run, is_current=True).verdict
    assert verdict["deviations"]["dmax"]["value"] == pytest.approx(AS_USUAL["dmax"])


def test_a_struck_strip_counts_no_more_and_stays_on_record(admin, owner, labmate, process, batch):
    make_aims(admin, owner, process, batch)
    run = next_run(owner, process)
    strip = read_as(owner, run, batch, off={"dmax": 0.3})
    with pytest.raises(NotAllowed):
        strike_strip(actor=labmate, strip_id=strip.pk, reason="looks odd")
    with pytest.raises(InvalidInput):
        strike_strip(actor=owner, strip_id=strip.pk, reason="  ")
    strike_strip(actor=owner, strip_id=strip.pk, reason="read upside down")
    assert (state_of(run), run.control_reason) == (ControlState.UNPROVEN, "")
    strip.refresh_from_db()
    assert (strip.is_current, strip.ended_reason) == (False, "read upside down")
    with pytest.raises(WrongState):
        strike_strip(actor=owner, strip_id=strip.pk, reason="again")
    assert read_as(owner, run, batch).replicate == 2
    assert state_of(run) == ControlState.IN_CONTROL


def test_a_broken_tolerance_decides_whatever_the_strip_says(admin, owner, process, batch):
    make_aims(admin, owner, process, batch)
    run = next_run(owner, process, temperature_start_c=23.0)
    read_as(owner, run, batch)
    assert state_of(run) == ControlState.OUT_OF_CONTROL
    assert run.control_reason.startswith("temperature at the start 23 °C")
    judge_run(actor=admin, run_id=run.pk, control_state="in_control", reason="thermometer was wrong")
    read_as(owner, run, batch)
    assert state_of(run) == ControlState.IN_CONTROL, "the admin's lift of the tolerance stands"
    read_as(owner, run, batch, off={"dmax": 0.9})
    assert state_of(run) == ControlState.OUT_OF_CONTROL


def test_a_correction_judges_the_strip_again_and_keeps_what_was_said_by_hand(admin, owner, process, batch):
    make_aims(admin, owner, process, batch)
    run = next_run(owner, process)
    read_as(owner, run, batch, off={"dmax": 0.3})
    kept = {"ran_on": run.ran_on, "temperature_start_c": 20.0, "development_time_s": 510}
    correct_run(actor=owner, run_id=run.pk, reason="notes", notes="x", developer_batch="H-13", **kept)
    assert state_of(run) == ControlState.OUT_OF_CONTROL
    judge_run(actor=admin, run_id=run.pk, control_state="in_control", reason="strip had a fingerprint")
    correct_run(actor=owner, run_id=run.pk, reason="notes", notes="y", developer_batch="H-13", **kept)
    assert (state_of(run), run.control_reason) == (ControlState.IN_CONTROL, "strip had a fingerprint")


def test_rolls_of_a_run_that_turns_out_of_control_are_pooled_anew(admin, owner, process, batch):
    make_aims(admin, owner, process, batch)
    run = next_run(owner, process)
    roll = roll_row(owner, process, make_exposure(admin), run=run)
    read_as(owner, run, batch)
    assert not Job.objects.filter(kind="pool_stock").exists()
    read_as(owner, run, batch, off={"dmax": 0.9})
    roll.refresh_from_db()
    assert roll.is_held_back
    assert "was out of control: control strip" in roll.held_back_by
    assert Job.objects.filter(kind="pool_stock").exists()
    assert roll.state == RollState.ACCEPTED


def test_the_spread_of_the_instrument_is_the_strip_s(admin, owner, process, batch):
    make_aims(admin, owner, process, batch)
    run = next_run(owner, process)
    coarse = make_instrument(admin, "Coarse meter", reading_sd=0.2)
    read_as(owner, run, batch, off={"dmax": 0.15}, instrument_id=coarse.pk)
    # 0.15 is within the reading's own uncertainty, so it is on neither side of the aim.
    assert state_of(run) == ControlState.IN_CONTROL


def test_a_strip_of_another_developer_batch_starts_its_windows_anew(admin, owner, process, batch):
    make_aims(admin, owner, process, batch)
    for number in range(7):
        run = next_run(owner, process, ran_on=date(2026, 4, 20) + timedelta(days=number))
        read_as(owner, run, batch, off={"dmax": 0.016})
    other = next_run(owner, process, ran_on=date(2026, 5, 2), developer_batch="H-13")
    read_as(owner, other, batch, off={"dmax": 0.016})
    assert state_of(other) == ControlState.IN_CONTROL
    same = next_run(owner, process, ran_on=date(2026, 5, 2))
    read_as(owner, same, batch, off={"dmax": 0.016})
    assert state_of(same) == ControlState.OUT_OF_CONTROL
    assert "the same side" in same.control_reason


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"base_fog": 7.0}, "base_fog"),
        ({"dmax": float("nan")}, "dmax"),
        ({"speed_step": 0.1}, "speed_step"),
        ({"dmax": 1.0}, "dmax"),
        ({"base_fog": None, "speed_step": None, "high_step": None, "dmax": None}, "base_fog"),
        ({"instrument_id": 99}, "instrument_id"),
    ],
)
def test_what_cannot_be_a_strip_is_refused(owner, process, batch, values, field):
    run = make_run(owner, process)
    with pytest.raises(InvalidInput) as refused:
        read_as(owner, run, batch, **values)
    assert refused.value.field == field
    assert not ControlStrip.objects.exists()
    assert state_of(run) == ControlState.UNPROVEN


def test_a_missing_step_is_kept_missing(admin, owner, process, batch):
    make_aims(admin, owner, process, batch)
    run = next_run(owner, process)
    read_as(owner, run, batch, high_step=None)
    assert state_of(run) == ControlState.UNPROVEN
    assert "was not read" in run.control_reason


def test_who_may_read_a_strip(admin, owner, labmate, stranger, visitor, process, batch):
    run = make_run(owner, process)
    for person in (labmate, stranger, visitor):
        with pytest.raises(NotAllowed):
            read_as(person, run, batch)
    read_as(admin, run, batch)
    with pytest.raises(NotFound):
        read_strip(actor=owner, run_id=0, batch_id=batch.pk, base_fog=0.3)
    with pytest.raises(InvalidInput):
        read_strip(actor=owner, run_id=run.pk, batch_id=0, base_fog=0.3)
    with pytest.raises(NotAllowed):
        add_strip_batch(actor=owner, code="CS-9")
    with pytest.raises(InvalidInput):
        add_strip_batch(actor=admin, code=batch.code.lower())


def test_a_run_keeps_nine_strips_of_a_batch(owner, process, batch):
    run = make_run(owner, process)
    for _ in range(9):
        read_as(owner, run, batch)
    with pytest.raises(InvalidInput):
        read_as(owner, run, batch)


def test_judging_takes_the_same_queries_after_many_strips(admin, owner, process, batch):
    make_aims(admin, owner, process, batch)

    def queries_of_a_strip(day):
        run = next_run(owner, process, ran_on=day)
        with CaptureQueriesContext(connection) as taken:
            read_as(owner, run, batch)
        assert state_of(run) == ControlState.IN_CONTROL
        return len(taken)

    few = queries_of_a_strip(date(2026, 5, 1))
    first = ProcessRun.objects.order_by("pk").first()
    runs = ProcessRun.objects.bulk_create(
        ProcessRun(
            revision=process,
            operator=owner,
            ran_on=date(2010, 1, 1) + timedelta(days=number),
            temperature_start_c=20.0,
            development_time_s=510,
            developer_batch=first.developer_batch,
        )
        for number in range(5000)
    )
    ControlStrip.objects.bulk_create(
        ControlStrip(run=run, batch=batch, replicate=1, read_by=owner, **AS_USUAL) for run in runs
    )
    assert queries_of_a_strip(date(2026, 5, 2)) == few
