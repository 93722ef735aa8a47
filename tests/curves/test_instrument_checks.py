"""Checks of instruments: what is refused, how an instrument stands by them, and the pages that tell it."""

import re
from datetime import date, timedelta

import pytest
from django.utils import timezone

from curves.models import Instrument, InstrumentCheck
from curves.queries.instrument_checks import check_states, waiting_checks
from curves.services.instrument_checks import plan_checks, record_check, strike_check
from labsite.common.errors import InvalidInput, NotAllowed, WrongState
from tests.factories.instruments import make_instrument
from tests.factories.standards import draft_tablet, make_tablet

#: Of the factory's tablet: 0.05, 1.55, 3.05 D at these steps.
STEPS = (1, 11, 21)
CERTIFIED = (0.05, 1.55, 3.05)


@pytest.fixture
def tablet(admin):
    return make_tablet(admin)


@pytest.fixture
def instrument(admin):
    return make_instrument(admin, reading_sd=0.003)


def checked(actor, instrument, tablet, *, off=(0.0, 0.0, 0.0), days_ago=0, **values) -> InstrumentCheck:
    """A check whose three readings are off by so much."""
    readings = [(step, density + wrong) for step, density, wrong in zip(STEPS, CERTIFIED, off, strict=True)]
    given = {
        "instrument_id": instrument.pk,
        "tablet_revision_id": tablet.pk,
        "density_type": instrument.density_type,
        "geometry": instrument.geometry,
        "checked_on": timezone.localdate() - timedelta(days=days_ago),
        "readings": readings,
    }
    return record_check(actor=actor, **given | values)


def state_of(instrument):
    instrument.refresh_from_db()
    return check_states([instrument])[instrument.pk]


def test_a_check_keeps_what_was_read_beside_the_certificate(owner, instrument, tablet):
    check = checked(owner, instrument, tablet, readings=[(21, 3.06), (0, 0.0), (11, 1.54), (4, 0.51)])
    assert [(row["level"], row["step"]) for row in check.readings] == [
        ("zero", 0),
        ("", 4),
        ("mid", 11),
        ("high", 21),
    ]
    assert check.by_level["zero"]["certified_sd"] == 0.0
    assert (check.by_level["high"]["certified"], check.by_level["high"]["certified_sd"]) == (3.05, 0.01)
    state = state_of(instrument)
    assert (state.key, state.due_on) == ("in_order", check.checked_on + timedelta(days=90))
    assert state.trend.quantities["high"].deviations == pytest.approx((0.01,))


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"density_type": "blue"}, "density_type"),
        ({"geometry": "projection_4_5"}, "geometry"),
        ({"density_type": "red"}, "density_type"),
        ({"checked_on": date(2999, 1, 1)}, "checked_on"),
        ({"readings": [(1, 0.05), (21, 3.05)]}, "readings"),
        ({"readings": [(1, 0.05), (22, 1.0), (21, 3.05)]}, "readings"),
        ({"readings": [(1, 0.05), (1, 0.06), (21, 3.05)]}, "readings"),
        ({"readings": [(1, 0.05), (11, 9.0), (21, 3.05)]}, "readings"),
        ({"readings": [(1, 0.05), (11, float("nan")), (21, 3.05)]}, "readings"),
        ({"tablet_revision_id": 999}, "tablet_revision_id"),
    ],
)
def test_what_says_nothing_is_refused_with_what_to_mend(owner, instrument, tablet, values, field):
    with pytest.raises(InvalidInput) as refused:
        checked(owner, instrument, tablet, **values)
    assert refused.value.field == field
    assert not InstrumentCheck.objects.exists()


def test_drafts_scanners_and_strangers_are_refused(owner, labmate, stranger, admin, instrument, tablet):
    with pytest.raises(InvalidInput):
        checked(owner, instrument, draft_tablet(admin, name="Tablet B"))
    scanner = make_instrument(admin, name="Scanner", kind=Instrument.Kind.SCANNER)
    with pytest.raises(WrongState, match="calibrations"):
        checked(owner, scanner, tablet)
    assert state_of(scanner).key == "by_calibration"
    with pytest.raises(NotAllowed):
        checked(stranger, instrument, tablet)
    check = checked(owner, instrument, tablet)
    with pytest.raises(NotAllowed):
        strike_check(actor=labmate, check_id=check.pk, reason="mine")
    with pytest.raises(InvalidInput):
        strike_check(actor=owner, check_id=check.pk, reason=" ")
    with pytest.raises(NotAllowed):
        plan_checks(actor=owner, instrument_id=instrument.pk, every_days=30)
    with pytest.raises(InvalidInput):
        plan_checks(actor=admin, instrument_id=instrument.pk, every_days=0)


def test_a_check_becomes_due_and_overdue(owner, admin, instrument, tablet):
    assert state_of(instrument).key == "no_check"
    checked(owner, instrument, tablet, days_ago=40)
    found = {}
    for every in (90, 47, 40, 39, None):
        plan_checks(actor=admin, instrument_id=instrument.pk, every_days=every)
        found[every] = state_of(instrument).key
    assert found == {90: "in_order", 47: "due", 40: "due", 39: "overdue", None: "in_order"}
    assert waiting_checks() == []
    plan_checks(actor=admin, instrument_id=instrument.pk, every_days=39)
    assert [each.instrument for each in waiting_checks()] == [instrument]


@pytest.mark.parametrize(
    ("off", "key"),
    [
        ((0.0, 0.0, 0.0), "in_order"),
        ((0.03, 0.03, 0.03), "off"),
        ((0.0, 0.0, 0.05), "off"),
        ((0.0, 0.04, 0.0), "off"),
    ],
)
def test_a_failing_check_puts_in_doubt_what_was_read_since_the_last_good_one(
    owner, instrument, tablet, off, key
):
    checked(owner, instrument, tablet, days_ago=60)
    good = checked(owner, instrument, tablet, days_ago=30, off=(0.0, 0.005, 0.01))
    last = checked(owner, instrument, tablet, off=off)
    state = state_of(instrument)
    assert state.key == key
    assert state.doubted_from == (good.checked_on if key == "off" else None)
    strike_check(actor=owner, check_id=last.pk, reason="The tablet lay askew.")
    assert state_of(instrument).last == good


def test_a_first_check_that_fails_puts_in_doubt_all_since_the_instrument_came(owner, instrument, tablet):
    checked(owner, instrument, tablet, off=(0.03, 0.0, 0.0), days_ago=3)
    assert state_of(instrument).doubted_from == timezone.localdate() - timedelta(days=3)


def test_a_slow_drift_is_found_before_it_fails(owner, instrument, tablet):
    for number in range(6):
        checked(
            owner, instrument, tablet, days_ago=150 - 30 * number, off=(0.0, 0.0015 * number, 0.003 * number)
        )
    state = state_of(instrument)
    assert (state.key, state.is_failing) == ("drifting", False)
    drift = state.trend.quantities["span"].drift
    assert drift.low <= 0.003 <= drift.high
    assert state.doubted_from is None


def test_other_kinds_tablets_and_steps_are_series_of_their_own(owner, admin, instrument, tablet):
    checked(owner, instrument, tablet, days_ago=20, off=(0.03, 0.03, 0.03))
    other = make_tablet(admin, name="Tablet B")
    newer = checked(owner, instrument, other, days_ago=10)
    state = state_of(instrument)
    assert (state.key, state.checks, len(state.others)) == ("in_order", (newer,), 1)
    # Whoever describes it anew makes what was checked before another quantity.
    Instrument.objects.filter(pk=instrument.pk).update(density_type="blue")
    state = state_of(instrument)
    assert (state.key, len(state.others)) == ("no_check", 2)


def test_a_new_calibration_of_the_tablet_is_no_drift_of_the_instrument(owner, admin, instrument, tablet):
    for number in range(5):
        checked(owner, instrument, tablet, days_ago=100 - 20 * number)
    # As if it had been certified 0.01 higher by then, and were read so.
    late = InstrumentCheck.objects.last()
    late.readings = [
        row | {"density": row["density"] + 0.01, "certified": row["certified"] + 0.01}
        for row in late.readings
    ]
    late.save()
    state = state_of(instrument)
    assert state.key == "in_order"
    assert state.trend.quantities["zero"].deviations == pytest.approx((0.0,) * 5)


def test_states_of_many_instruments_take_one_query(
    owner, admin, instrument, tablet, django_assert_num_queries
):
    others = [make_instrument(admin, name=f"Densitometer {number}") for number in range(3)]
    for each in (instrument, *others):
        checked(owner, each, tablet, days_ago=1)
        checked(owner, each, tablet)
    with django_assert_num_queries(1):
        states = check_states([instrument, *others])
    assert {len(state.checks) for state in states.values()} == {2}


# --- Pages and API


def form_values(tablet, **values):
    given = {
        "tablet_revision_id": tablet.pk,
        "density_type": "visual",
        "geometry": "diffuse",
        "checked_on": timezone.localdate().isoformat(),
        "zero_step": "1",
        "zero_density": "0,05",
        "mid_step": "11",
        "mid_density": "1.55",
        "high_step": "21",
        "high_density": "3.04",
        "more": "4 0.51; 14 1.99",
    }
    return given | values


def test_a_member_enters_a_check_and_is_told_at_once(client_for, owner, admin, instrument, tablet):
    client = client_for(owner)
    page = f"/control/instruments/{instrument.pk}/checks/"
    assert "No check yet" in client.get(page).content.decode()
    form = client.get(f"{page}new/").content.decode()
    assert 'value="11"' in form and "Tablet A, calibration 1" in form
    refused = client.post(f"{page}new/", form_values(tablet, more="4: 0.51"))
    assert refused.status_code == 400 and "is no step with its density" in refused.content.decode()
    told = client.post(f"{page}new/", form_values(tablet), follow=True).content.decode()
    assert "is in order" in told and "4: +0.010; 14: −0.010" in told
    told = client.post(f"{page}new/", form_values(tablet, zero_density="0.09"), follow=True).content.decode()
    assert "The zero is off" in told and "An admin can hold back" in told
    assert "first_on=" not in told

    told = client_for(admin).get(page).content.decode()
    today = timezone.localdate().isoformat()
    assert f"findings/new/?first_on={today}&amp;last_on={today}&amp;reason=Check+of" in told
    (address,) = re.findall(r'href="([^"]*first_on=[^"]*)"', told)
    found = client_for(admin).get(address.replace("&amp;", "&")).content.decode()
    assert "What would follow" in found and "The zero is off" in found

    assert "The zero is off" in client.get("/bench/").content.decode()
    assert "The zero is off" in client.get("/control/").content.decode()
    assert "off" in client.get(f"/control/instruments/{instrument.pk}/").content.decode()
    lines = client.get(f"{page}?export=csv").content.decode().splitlines()
    assert lines[0].startswith("check,day,by,tablet,density type,geometry,level,step")
    assert len(lines) == 1 + 2 * 5
    assert ",off," in client.get("/control/instruments/?export=csv").content.decode()
    check = InstrumentCheck.objects.last()
    struck = client.post(f"/control/instruments/checks/{check.pk}/strike/", {"reason": "Askew."}, follow=True)
    assert "Askew." in struck.content.decode()
    client_for(admin).post(f"{page}plan/", {"every_days": ""})
    instrument.refresh_from_db()
    assert instrument.check_every_days is None


def test_the_api_keeps_and_tells_checks(client_for, owner, instrument, tablet):
    client = client_for(owner)
    address = f"/api/v1/instruments/{instrument.pk}/checks/"
    body = {
        "tablet_revision_id": tablet.pk,
        "density_type": "visual",
        "geometry": "diffuse",
        "checked_on": timezone.localdate().isoformat(),
        "readings": [
            {"step": step, "density": density} for step, density in zip(STEPS, CERTIFIED, strict=True)
        ],
    }
    made = client.post(address, body, content_type="application/json")
    assert made.status_code == 201, made.content
    refused = client.post(address, body | {"geometry": "projection_1_6"}, content_type="application/json")
    assert refused.status_code == 400 and refused.json()["field"] == "geometry"
    found = client.get(address).json()
    assert (found["state"], len(found["checks"]), found["tolerance"]) == ("in_order", 1, 0.02)
    assert found["quantities"]["bend"]["is_within"] is True
    assert found["quantities"]["zero"]["drift"]["reason"] == "TOO_FEW_POINTS"
    struck = client.post(
        f"/api/v1/instrument-checks/{made.json()['id']}/strike/",
        {"reason": "x"},
        content_type="application/json",
    )
    assert struck.json()["is_current"] is False
