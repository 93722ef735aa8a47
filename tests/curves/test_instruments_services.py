"""Instruments: added, described anew, retired; past readings keep their meaning."""

import math

import pytest

from curves.models import Instrument, RollState
from curves.services.instruments import (
    add_instrument,
    edit_instrument,
    reactivate_instrument,
    retire_instrument,
)
from labsite.accounts.models import AuditRecord
from labsite.common.errors import InvalidInput, NotAllowed, NotFound, WrongState
from labsite.jobs.models import Job
from tests.factories.instruments import make_instrument
from tests.factories.standards import make_exposure, make_process
from tests.factories.standing import reading_row, roll_row


def edit(admin, instrument, **values):
    own = {
        name: getattr(instrument, name)
        for name in ("name", "kind", "density_type", "geometry", "aperture_mm", "reading_sd", "notes")
    }
    return edit_instrument(actor=admin, instrument_id=instrument.pk, **own | values)


def test_an_instrument_is_added_and_described_anew(admin):
    instrument = make_instrument(admin, " Bench densitometer ")
    assert instrument.name == "Bench densitometer"
    edit(admin, instrument, notes="lamp replaced", reading_sd=0.008)
    instrument.refresh_from_db()
    assert (instrument.notes, instrument.reading_sd) == ("lamp replaced", 0.008)
    record = AuditRecord.objects.get(action="edit instrument")
    assert record.before == {"notes": "", "reading_sd": 0.01}


def test_a_retired_instrument_can_come_back(admin):
    instrument = make_instrument(admin)
    retire_instrument(actor=admin, instrument_id=instrument.pk, reason="lamp unsteady")
    instrument.refresh_from_db()
    assert not instrument.is_active
    assert AuditRecord.objects.get(action="retire instrument").reason == "lamp unsteady"
    with pytest.raises(WrongState, match="retired already"):
        retire_instrument(actor=admin, instrument_id=instrument.pk)
    reactivate_instrument(actor=admin, instrument_id=instrument.pk)
    with pytest.raises(WrongState, match="in use already"):
        reactivate_instrument(actor=admin, instrument_id=instrument.pk)


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"name": " "}, "name"),
        ({"kind": "ruler"}, "kind"),
        ({"density_type": "pink"}, "density_type"),
        ({"geometry": "round"}, "geometry"),
        ({"aperture_mm": 0.0}, "aperture_mm"),
        ({"aperture_mm": math.nan}, "aperture_mm"),
        ({"reading_sd": 0.0}, "reading_sd"),
        ({"reading_sd": 3.0}, "reading_sd"),
    ],
)
def test_values_that_cannot_be_right_are_refused(admin, values, field):
    with pytest.raises(InvalidInput) as refused:
        make_instrument(admin, **values)
    assert [problem["field"] for problem in refused.value.problems] == [field]
    assert not Instrument.objects.exists()


def test_names_are_unique_whatever_their_capitals(admin):
    make_instrument(admin)
    with pytest.raises(InvalidInput, match="name already"):
        make_instrument(admin, "bench DENSITOMETER")


@pytest.mark.parametrize("change", [{"density_type": "blue"}, {"geometry": "projection_4_5"}])
def test_the_kind_of_density_stays_once_there_are_readings(admin, owner, change):
    instrument = make_instrument(admin)
    edit(admin, instrument, **change)
    instrument = make_instrument(admin, "Second densitometer")
    roll = roll_row(owner, make_process(admin), make_exposure(admin))
    reading_row(roll, instrument)
    with pytest.raises(InvalidInput, match="Add another instrument") as refused:
        edit(admin, instrument, **change)
    assert refused.value.field == next(iter(change))


def test_another_spread_fits_the_undecided_rolls_again_and_leaves_accepted_ones(admin, owner):
    instrument, other = make_instrument(admin), make_instrument(admin, "Second densitometer")
    process, exposure = make_process(admin), make_exposure(admin)
    rolls = {
        state: roll_row(owner, process, exposure, state=state)
        for state in (RollState.DRAFT, RollState.SUBMITTED, RollState.RETURNED, RollState.ACCEPTED)
    }
    for roll in rolls.values():
        reading_row(roll, instrument)
    reading_row(roll_row(owner, process, exposure, state=RollState.DRAFT), other)
    edit(admin, instrument, notes="cleaned")
    assert not Job.objects.exists()
    edit(admin, instrument, reading_sd=0.02)
    fitted = {job.subject["roll_id"] for job in Job.objects.filter(kind="fit_roll")}
    assert fitted == {roll.pk for state, roll in rolls.items() if state != RollState.ACCEPTED}


def test_only_admins_keep_instruments(admin, owner, visitor):
    instrument = make_instrument(admin)
    for person in (owner, visitor):
        with pytest.raises(NotAllowed):
            add_instrument(actor=person, name="Mine")
        with pytest.raises(NotAllowed):
            edit(person, instrument, notes="mine")
        for act in (retire_instrument, reactivate_instrument):
            with pytest.raises(NotAllowed):
                act(actor=person, instrument_id=instrument.pk)


def test_what_is_not_there_is_not_found(admin):
    with pytest.raises(NotFound):
        retire_instrument(actor=admin, instrument_id=999)
