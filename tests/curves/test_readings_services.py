"""Readings: stored as a whole or not at all, corrected without loss, fitted once."""

import pytest

from curves.models import UNEXPOSED_STEP, Analysis, Reading, RollState
from curves.services.readings import ReadingValue, record_readings
from curves.services.reviews import return_roll
from curves.services.rolls import submit_roll
from labsite.accounts.models import AuditRecord
from labsite.common.errors import InvalidInput, NotAllowed, NotFound, WrongState
from labsite.jobs.models import Job
from labsite.jobs.runner import run_waiting_jobs
from tests.factories.instruments import make_instrument
from tests.factories.rolls import (
    make_batch,
    make_read_roll,
    make_roll,
    make_standards,
    make_submitted_roll,
    reading_values,
)


@pytest.fixture
def roll(admin, owner):
    return make_roll(owner, make_batch(owner), make_standards(admin))


def record(member, roll, *cells, **how):
    values = [ReadingValue(*cell) for cell in cells]
    return record_readings(actor=member, strip_id=roll.strips.get().pk, values=values, **how)


def current(roll) -> dict:
    rows = Reading.objects.filter(strip__roll=roll, is_current=True)
    return {(row.step, row.replicate): row.density for row in rows}


def test_readings_are_kept_with_who_how_and_by_what(roll, admin, owner):
    instrument = make_instrument(admin)
    job = record(owner, roll, (1, 1, 2.31), (UNEXPOSED_STEP, 1, 0.25), instrument_id=instrument.pk)
    assert job.kind == "fit_roll"
    assert current(roll) == {(1, 1): 2.31, (UNEXPOSED_STEP, 1): 0.25}
    reading = Reading.objects.get(step=1)
    assert (reading.read_by, reading.instrument, reading.source) == (owner, instrument, "typed")
    assert AuditRecord.objects.get(action="record readings").after["cells"] == 2


def test_a_correction_ends_the_old_reading_and_keeps_it(roll, owner):
    record(owner, roll, (1, 1, 2.31), (2, 1, 2.20))
    record(owner, roll, (1, 1, 2.13), reason="digits swapped")
    assert current(roll) == {(1, 1): 2.13, (2, 1): 2.20}
    old = Reading.objects.get(is_current=False)
    assert (old.density, old.ended_reason, old.superseded_by.density) == (2.31, "digits swapped", 2.13)


def test_an_emptied_cell_ends_its_reading(roll, owner):
    record(owner, roll, (1, 1, 2.31))
    record(owner, roll, (1, 1, None))
    assert current(roll) == {}
    assert Reading.objects.get().ended_reason == "corrected in draft"


def test_the_same_value_again_changes_nothing(roll, owner):
    record(owner, roll, (1, 1, 2.31))
    assert record(owner, roll, (1, 1, 2.31)) is None
    assert Reading.objects.count() == 1


def test_all_faults_are_told_at_once_and_nothing_is_stored(roll, owner):
    with pytest.raises(InvalidInput) as refused:
        record(
            owner,
            roll,
            (1, 1, 2.31),
            (2, 1, 9.0),
            (99, 1, 0.5),
            (3, 0, 0.5),
            (4, 1, float("nan")),
            (1, 1, 2.3),
        )
    assert [problem["field"] for problem in refused.value.problems] == [
        "d-2-1", "d-99-1", "d-3-0", "d-4-1", "d-1-1"
    ]  # fmt: skip
    assert not Reading.objects.exists()
    assert not Job.objects.exists()


def test_densities_of_two_kinds_are_never_mixed(roll, admin, owner):
    diffuse = make_instrument(admin)
    projection = make_instrument(admin, name="Projection head", geometry="projection_4_5")
    record(owner, roll, (1, 1, 2.31), instrument_id=diffuse.pk)
    with pytest.raises(InvalidInput, match="One curve can't mix them"):
        record(owner, roll, (2, 1, 2.2), instrument_id=projection.pk)


def test_another_roll_s_member_and_a_retired_one_may_not_write(roll, labmate, stranger, visitor):
    for person in (labmate, stranger, visitor):
        with pytest.raises(NotAllowed):
            record(person, roll, (1, 1, 2.31))


def test_a_strip_that_is_not_there(roll, owner):
    with pytest.raises(NotFound):
        record_readings(actor=owner, strip_id=0, values=[])


def test_readings_are_fitted_once_and_stand_for_the_roll(admin, owner):
    roll = make_read_roll(owner, make_batch(owner), make_standards(admin))
    analysis = roll.current_analysis
    assert analysis.measures["base_plus_fog"]["value"] == pytest.approx(0.25, abs=0.02)  # 3 readings, sd 0.01
    # Absolute exposures, speed point made at -1.60: the interval has to hold it.
    point = analysis.measures["speed_point_log_exposure"]
    assert point["low"] <= -1.60 <= point["high"]
    job = Job.objects.get(kind="fit_roll")
    assert job.outcome == {"fitted": True, "analysis": analysis.pk}


def test_the_fit_run_twice_adds_nothing(admin, owner):
    roll = make_read_roll(owner, make_batch(owner), make_standards(admin))
    Job.objects.filter(kind="fit_roll").update(state="queued", attempts=0)
    assert run_waiting_jobs() == 1
    assert Analysis.objects.filter(roll=roll).count() == 1


def test_taking_all_readings_away_leaves_no_result_standing(admin, owner):
    roll = make_read_roll(owner, make_batch(owner), make_standards(admin))
    record(owner, roll, *((value.step, value.replicate, None) for value in reading_values(roll)))
    run_waiting_jobs()
    roll.refresh_from_db()
    assert roll.current_analysis is None
    assert Analysis.objects.filter(roll=roll).count() == 1


def test_a_submitted_roll_is_closed_to_its_member_until_it_is_returned(admin, owner):
    roll = make_submitted_roll(owner, make_batch(owner), make_standards(admin))
    with pytest.raises(WrongState):
        record(owner, roll, (1, 1, 2.0))
    return_roll(actor=admin, roll_id=roll.pk, reasons="Read step 1 again.")
    record(owner, roll, (1, 1, 2.0))
    assert Reading.objects.get(strip__roll=roll, is_current=False).ended_reason == "corrected after return"
    with pytest.raises(WrongState, match="not ready"):
        submit_roll(actor=owner, roll_id=roll.pk)
    run_waiting_jobs()
    assert submit_roll(actor=owner, roll_id=roll.pk).state == RollState.SUBMITTED
