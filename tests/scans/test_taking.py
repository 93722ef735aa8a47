"""Densities taken into a roll: looked at first, then readings like any others with the scan as source."""

import re

import pytest
from django.urls import reverse

from curves.models import Reading, RollState
from curves.services.readings import ReadingValue, record_readings
from labsite.common.errors import InvalidInput, NotAllowed, WrongState
from labsite.jobs.models import Job
from scans.models import Transfer
from scans.queries.measured import shown_density
from scans.queries.taking import taking_preview
from scans.services.taking import take_densities
from tests.factories.instruments import make_instrument
from tests.factories.rolls import make_batch, make_roll, make_standards
from tests.factories.scans import bare_scan, calibration_row, make_scanner, measurement_row

READ = {1: 1.8041, 2: 1.71279, 3: None, 0: 0.2503}


@pytest.fixture
def scan(owner, admin, settings, tmp_path):
    """A measured scan of the strip of the owner's draft; step 3 is withheld, others were not read."""
    settings.MEDIA_ROOT = tmp_path
    roll = make_roll(owner, make_batch(owner), make_standards(admin))
    made = bare_scan(owner, roll, make_scanner(admin))
    calibration_row(made)
    measurement_row(made, READ)
    return made


def standing(scan) -> dict:
    """The strip's standing readings by step."""
    return {r.step: r for r in scan.strip.readings.filter(is_current=True)}


def test_the_preview_names_what_would_be_stored_and_what_is_left_out(scan, owner):
    shown = taking_preview(owner, scan.pk)
    assert {step.step: step.density for step in shown.taken} == {0: 0.25, 1: 1.804, 2: 1.713}
    left = {step.step: step.left_out for step in shown.left_out}
    assert "denser than the calibration reaches" in left[3]
    assert left[21] == "this step was not read"
    assert len(left) == 19


def test_readings_are_the_numbers_that_the_page_showed(scan, owner, client_for):
    client = client_for(owner)
    page = client.get(reverse("scan", args=[scan.pk])).content.decode()
    on_page = re.findall(r'<th scope="row">(?:step )?(\w+)</th><td class="number">(\d\.\d{3})</td>', page)
    preview = client.get(reverse("scan_take", args=[scan.pk])).content.decode()
    in_preview = re.findall(r'<th scope="row">(\w+)</th>.*?<ins>(\d\.\d{3})</ins>', preview)
    shown = taking_preview(owner, scan.pk)
    values = {"measurement_id": shown.measurement.pk, "version": shown.grid.version}
    assert client.post(reverse("scan_take", args=[scan.pk]), values).status_code == 302
    stored = {str(r.step or "unexposed"): f"{r.density:.3f}" for r in standing(scan).values()}
    assert stored == dict(on_page) == dict(in_preview)
    document = {a["step"]: shown_density(a) for a in shown.measurement.document["areas"] if a["step"] != 3}
    assert {step: r.density for step, r in standing(scan).items()} == document


def test_a_reading_says_which_scan_and_scanner_it_is_from(scan, owner):
    transfer = take_densities(actor=owner, scan_id=scan.pk)
    reading = standing(scan)[1]
    assert (reading.source, reading.source_name) == (Reading.Source.SCAN, scan.code)
    assert (reading.instrument, reading.read_by) == (scan.scanner, owner)
    assert set(transfer.readings.all()) == set(standing(scan).values())
    assert Job.objects.filter(kind="fit_roll").exists()


def test_taking_twice_adds_nothing(scan, owner):
    take_densities(actor=owner, scan_id=scan.pk)
    take_densities(actor=owner, scan_id=scan.pk)
    assert Transfer.objects.count() == 1
    assert scan.strip.readings.count() == 3


def test_what_stood_is_kept_with_the_reason(scan, owner):
    typed = [ReadingValue(1, 1, 1.79), ReadingValue(1, 2, 1.80), ReadingValue(3, 1, 1.6)]
    record_readings(actor=owner, strip_id=scan.strip_id, values=typed)
    shown = taking_preview(owner, scan.pk)
    assert shown.replaced_count == 1
    take_densities(actor=owner, scan_id=scan.pk, reason="scanned with care")
    old = scan.strip.readings.get(step=1, replicate=1, is_current=False)
    assert (old.density, old.ended_reason) == (1.79, "scanned with care")
    assert scan.strip.readings.get(step=3, is_current=True).density == 1.6  # withheld, so not touched
    assert scan.strip.readings.get(step=1, replicate=2, is_current=True).density == 1.8


def test_withheld_densities_are_not_taken(scan, owner, client_for):
    scan.settings = {"holder": "glass"}
    scan.save()
    scan.measurements.update(is_current=False)
    measurement_row(scan, dict.fromkeys(READ))
    with pytest.raises(WrongState, match="The densities are withheld"):
        take_densities(actor=owner, scan_id=scan.pk)
    answer = client_for(owner).get(reverse("scan_take", args=[scan.pk]))
    assert answer.status_code == 409
    assert "calibrated with other settings" in answer.content.decode()


def test_numbers_whose_grounds_have_changed_are_measured_again_first(scan, owner):
    scan.settings = scan.settings | {"holder": "glass"}
    scan.save()
    with pytest.raises(WrongState, match="measured again first"):
        take_densities(actor=owner, scan_id=scan.pk)
    assert not scan.strip.readings.exists()


def test_only_the_member_takes_and_only_into_a_roll_that_may_be_changed(scan, owner, labmate):
    with pytest.raises(NotAllowed):
        take_densities(actor=labmate, scan_id=scan.pk)
    type(scan.roll).objects.filter(pk=scan.roll_id).update(state=RollState.SUBMITTED)
    with pytest.raises(WrongState, match="submitted and can't be changed"):
        take_densities(actor=owner, scan_id=scan.pk)


def test_kinds_of_density_are_not_mixed_on_one_curve(scan, owner, admin, client_for):
    other = make_instrument(admin, "Old densitometer")
    record_readings(
        actor=owner, strip_id=scan.strip_id, values=[ReadingValue(9, 1, 0.9)], instrument_id=other.pk
    )
    with pytest.raises(InvalidInput, match="One curve can't mix them"):
        take_densities(actor=owner, scan_id=scan.pk)
    shown = taking_preview(owner, scan.pk)
    answer = client_for(owner).post(
        reverse("scan_take", args=[scan.pk]),
        {"measurement_id": shown.measurement.pk, "version": shown.grid.version},
    )
    assert answer.status_code == 409 and "One curve can" in answer.content.decode()
    assert set(standing(scan)) == {9}


def test_a_preview_that_is_out_of_date_stores_nothing(scan, owner):
    shown = taking_preview(owner, scan.pk)
    record_readings(actor=owner, strip_id=scan.strip_id, values=[ReadingValue(1, 1, 1.7)])
    with pytest.raises(WrongState) as refusal:
        take_densities(actor=owner, scan_id=scan.pk, version=shown.grid.version)
    assert refusal.value.code == "stale"
    scan.measurements.update(is_current=False)
    measurement_row(scan, READ | {4: 1.5})
    with pytest.raises(WrongState, match="measured anew"):
        take_densities(actor=owner, scan_id=scan.pk, measurement_id=shown.measurement.pk)


@pytest.mark.parametrize(
    ("change", "words"),
    [({"shows": "tablet"}, "Only a scan of a roll's strip"), ({"scanner": None}, "which scanner made")],
)
def test_scans_of_other_things_have_nothing_to_take(scan, owner, change, words):
    for name, value in change.items():
        setattr(scan, name, value)
    scan.save()
    with pytest.raises(WrongState, match=words):
        taking_preview(owner, scan.pk)
