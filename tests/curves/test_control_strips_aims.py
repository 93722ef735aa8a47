"""Aims of control strips: from strips in control, by hand, carried over to another batch; fixed in force."""

from datetime import date, timedelta
from itertools import pairwise

import pytest

from curves.models import ControlAims, RevisionState
from curves.models.processes import ControlState
from curves.services.control_aims import (
    carry_over_aims,
    discard_aims,
    draft_aims_from_strips,
    draft_stated_aims,
    put_aims_in_force,
)
from labsite.common.errors import InvalidInput, NotAllowed, WrongState
from tests.factories.standards import make_process
from tests.factories.strips import (
    AS_USUAL,
    FIRST_DAY,
    make_aims,
    make_strip_batch,
    make_strip_runs,
    next_run,
    read_as,
)

CENTRES = {"base_fog": 0.28, "speed_step": 0.39, "contrast": 1.06, "dmax": 2.2}
LIMITS = {"base_fog": (0.03, 0.05), "speed_step": (0.06, 0.08), "contrast": (0.06, 0.09), "dmax": (0.1, 0.15)}


@pytest.fixture
def process(admin):
    return make_process(admin)


@pytest.fixture
def batch(admin):
    return make_strip_batch(admin)


def draft(admin, process, batch, **how):
    return draft_aims_from_strips(actor=admin, process_revision_id=process.pk, batch_id=batch.pk, **how)


def test_aims_are_the_mean_of_ten_runs_with_limits_from_moving_ranges(admin, owner, process, batch):
    runs = make_strip_runs(owner, process, batch)
    aims = draft(admin, process, batch)
    values = [run.control_strips.get().base_fog for run in runs]
    fog = aims.aims["aims"]["base_fog"]
    assert fog["centre"]["value"] == pytest.approx(sum(values) / 10)
    ranges = [abs(b - a) for a, b in pairwise(values)]
    # Mean moving range over 1.128 (NIST/SEMATECH e-Handbook, 6.3.2.2), not below the reading's own 0.005.
    sd = max(sum(ranges) / 9 / 1.128379, 0.005)
    assert fog["spread"]["value"] == pytest.approx(sd, rel=1e-6)
    # Limits are wider than two and three of it, as ten runs do not know it well.
    assert fog["action"] == pytest.approx(1.5 * fog["warning"])
    assert 3 * sd < fog["action"] < 6 * sd
    assert aims.aims["is_provisional"] is False
    assert aims.strips.count() == 10


def test_the_latest_runs_are_taken_but_for_those_out_of_control_or_left_out(admin, owner, process, batch):
    runs = make_strip_runs(owner, process, batch, count=12)
    warm = next_run(owner, process, temperature_start_c=24.0)
    read_as(owner, warm, batch)
    aims = draft(admin, process, batch, left_out=[runs[-1].pk])
    assert set(aims.strips.values_list("run_id", flat=True)) == {run.pk for run in runs[1:11]}


def test_five_to_nine_runs_make_provisional_aims_and_fewer_none(admin, owner, process, batch):
    make_strip_runs(owner, process, batch, count=4)
    with pytest.raises(InvalidInput, match="4 runs"):
        draft(admin, process, batch)
    read_as(owner, next_run(owner, process), batch)
    aims = draft(admin, process, batch)
    assert aims.aims["is_provisional"] is True
    put_aims_in_force(actor=admin, aims_id=aims.pk)
    run = next_run(owner, process, ran_on=date(2026, 4, 28))
    read_as(owner, run, batch)
    run.refresh_from_db()
    assert run.control_state == ControlState.UNPROVEN
    assert "provisional" in run.control_reason


def test_aims_in_force_never_change_and_the_next_supersede_them(admin, owner, process, batch):
    first = make_aims(admin, owner, process, batch)
    for change in (put_aims_in_force, discard_aims):
        with pytest.raises(WrongState):
            change(actor=admin, aims_id=first.pk)
    second = draft(admin, process, batch, rules="action", change_note="again")
    put_aims_in_force(actor=admin, aims_id=second.pk)
    first.refresh_from_db()
    assert first.state == RevisionState.SUPERSEDED
    third = draft(admin, process, batch)
    assert third.number == 3
    discard_aims(actor=admin, aims_id=third.pk)
    assert ControlAims.objects.count() == 2


def test_runs_unproven_for_want_of_aims_are_judged_once_there_are_some(admin, owner, process, batch):
    runs = make_strip_runs(owner, process, batch)
    aims = draft(admin, process, batch)
    assert put_aims_in_force(actor=admin, aims_id=aims.pk) == 10
    for run in runs:
        run.refresh_from_db()
    assert {run.control_state for run in runs} == {ControlState.IN_CONTROL}


def test_stated_aims_show_a_run_out_but_prove_none(admin, owner, process, batch):
    with pytest.raises(InvalidInput) as refused:
        draft_stated_aims(
            actor=admin, process_revision_id=process.pk, batch_id=batch.pk, centres=CENTRES, limits=LIMITS,
            change_note="",
        )  # fmt: skip
    assert refused.value.field == "change_note"
    for wrong in ({"centres": CENTRES | {"base_fog": -30.0}}, {"centres": {"base_fog": 0.28}},
                  {"limits": LIMITS | {"base_fog": (0.05, 0.03)}}):  # fmt: skip
        given = {"centres": CENTRES, "limits": LIMITS, "change_note": "as the strips came"} | wrong
        with pytest.raises(InvalidInput):
            draft_stated_aims(actor=admin, process_revision_id=process.pk, batch_id=batch.pk, **given)
    assert not ControlAims.objects.exists()
    aims = draft_stated_aims(
        actor=admin, process_revision_id=process.pk, batch_id=batch.pk, centres=CENTRES, limits=LIMITS,
        change_note="as the strips came",
    )  # fmt: skip
    put_aims_in_force(actor=admin, aims_id=aims.pk)
    usual, foggy = next_run(owner, process), next_run(owner, process, ran_on=date(2026, 4, 21))
    read_as(owner, usual, batch)
    read_as(owner, foggy, batch, off={"base_fog": 0.06, "speed_step": 0.06})
    usual.refresh_from_db()
    foggy.refresh_from_db()
    assert (usual.control_state, foggy.control_state) == ("unproven", "out_of_control")


def test_an_overlap_carries_the_aims_to_a_new_batch_with_its_uncertainty(admin, owner, process, batch):
    aims = make_aims(admin, owner, process, batch, sd=0.02)
    new = make_strip_batch(admin, "CS-2")
    with pytest.raises(InvalidInput, match="No run has strips of both"):
        carry_over_aims(actor=admin, aims_id=aims.pk, batch_id=new.pk)
    for number in range(8):
        run = next_run(owner, process, ran_on=FIRST_DAY + timedelta(days=40 + number))
        # To and fro about the aims, or eight alike in a row would be a signal of their own.
        e = 0.02 * (-1) ** number
        read_as(owner, run, batch, off={"base_fog": e, "speed_step": e, "high_step": -e, "dmax": e})
        read_as(
            owner, run, new,
            off={"base_fog": e, "speed_step": 0.05 + e, "high_step": 0.05 - e, "dmax": e},
        )  # fmt: skip
    moved = carry_over_aims(actor=admin, aims_id=aims.pk, batch_id=new.pk, change_note="the old are used up")
    offset = moved.offset["offsets"]["speed_step"]
    assert offset["value"] == pytest.approx(0.05)
    assert offset["low"] < 0.05 < offset["high"]
    before, after = (each.aims["aims"]["speed_step"]["centre"] for each in (aims, moved))
    assert after["value"] - before["value"] == pytest.approx(0.05)
    assert after["high"] - after["low"] > before["high"] - before["low"]
    put_aims_in_force(actor=admin, aims_id=moved.pk)
    aims.refresh_from_db()
    assert aims.state == RevisionState.IN_FORCE, "the old batch may still be used up"
    run = next_run(owner, process, ran_on=date(2026, 5, 3))
    read_as(owner, run, new, off={"speed_step": 0.05, "high_step": 0.05})
    run.refresh_from_db()
    assert run.control_state == ControlState.IN_CONTROL


def test_in_an_overlap_the_batch_with_aims_decides(admin, owner, process, batch):
    make_aims(admin, owner, process, batch)
    new = make_strip_batch(admin, "CS-2")
    run = next_run(owner, process)
    read_as(owner, run, new)
    read_as(owner, run, batch)
    run.refresh_from_db()
    assert run.control_state == ControlState.IN_CONTROL
    assert run.strip_judgements.filter(is_current=True).count() == 2


def test_only_an_admin_sets_aims(admin, owner, process, batch):
    aims = make_aims(admin, owner, process, batch)
    with pytest.raises(NotAllowed):
        draft(owner, process, batch)
    with pytest.raises(NotAllowed):
        put_aims_in_force(actor=owner, aims_id=aims.pk)
    with pytest.raises(NotAllowed):
        carry_over_aims(actor=owner, aims_id=aims.pk, batch_id=batch.pk)
    with pytest.raises(NotAllowed):
        draft_stated_aims(
            actor=owner, process_revision_id=process.pk, batch_id=batch.pk, centres=CENTRES, limits=LIMITS,
            change_note="mine",
        )  # fmt: skip


@pytest.mark.parametrize("how", [{"least": 4}, {"least": 101}, {"rules": "no such"}])
def test_what_makes_no_aims_is_refused(admin, owner, process, batch, how):
    make_strip_runs(owner, process, batch, count=5)
    with pytest.raises(InvalidInput) as refused:
        draft(admin, process, batch, **how)
    assert refused.value.field in how
    assert AS_USUAL["base_fog"] == 0.28
