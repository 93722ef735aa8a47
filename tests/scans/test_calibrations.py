"""Calibrating scanners: made from a tablet's scan, refused with the reason, superseded, voided."""

import json
import re
from datetime import timedelta
from unittest import mock

import numpy as np
import pytest
from django.core.management import call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from curves.models import RevisionState
from labsite.accounts.models import AuditRecord
from labsite.common.errors import InvalidInput, NotAllowed, WrongState
from labsite.jobs.models import Job
from labsite.jobs.runner import run_waiting_jobs
from scans.imaging.calibrate_store import calibration_from_dict
from scans.models import CalibrationState, ScannerCalibration, Shows
from scans.queries.calibrations import calibration_for
from scans.queries.measured import current_measurement
from scans.queries.scanners import portable_calibration, resting_on, scanner_rows
from scans.services.calibrating import calibrate_scanner, drift_document
from scans.services.measuring import request_measuring
from scans.services.taking import take_densities
from scans.services.voiding import void_calibration
from tests.factories.instruments import make_instrument
from tests.factories.scans import (
    DAY,
    SETTINGS,
    areas_by_step,
    bare_scan,
    calibration_row,
    last_job,
    make_scan_lab,
    make_scanner,
    measurement_row,
    scan_row,
    tablet_picture,
    tablet_scan,
)
from tests.factories.standards import DENSITIES


@pytest.fixture(autouse=True)
def scan_files(settings, tmp_path):
    """Scans lie in a folder of the test's own."""
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def lab(owner, admin):
    """A roll, a scanner, a tablet's scan and a strip's."""
    return make_scan_lab(owner, admin)


def test_a_tablet_makes_the_scanner_an_instrument(lab, owner):
    made = lab.calibrate(valid_days=14)
    assert made.state == CalibrationState.IN_FORCE
    assert (made.made_on, made.valid_days, made.made_by) == (DAY, 14, owner)
    assert made.document["residual_rms"] < 0.002
    assert made.document["steps"]["density"] == sorted(DENSITIES)
    assert made.drift == {}
    assert made.setup["settings"]["holder"] == "film"
    assert AuditRecord.objects.filter(action="calibrate scanner").count() == 1


def test_what_waited_for_it_is_measured_by_itself(lab):
    lab.calibrate()
    assert current_measurement(lab.strip).calibration is not None
    codes = [flag["code"] for flag in current_measurement(lab.tablet).document["flags"]]
    assert "SAME_SCAN" in codes  # no check of itself


def test_calibrating_twice_from_the_same_scan_adds_nothing(lab, owner):
    first = lab.calibrate()
    calibrate_scanner(actor=owner, scan_id=lab.tablet.pk)
    run_waiting_jobs()
    assert last_job("calibrate_scanner").outcome == {"calibration": first.pk}
    assert ScannerCalibration.objects.count() == 1


def test_the_newer_supersedes_the_older_and_says_how_far_the_scanner_moved(lab, owner):
    first = lab.calibrate()
    later = tablet_scan(owner, first.tablet_revision, lab.scanner, seed=9, scanned_on=DAY + timedelta(days=7))
    request_measuring(scan=later)
    run_waiting_jobs()
    calibrate_scanner(actor=owner, scan_id=later.pk)
    run_waiting_jobs()
    first.refresh_from_db()
    second = ScannerCalibration.objects.get(scan=later)
    assert (first.state, second.state) == (CalibrationState.SUPERSEDED, CalibrationState.IN_FORCE)
    assert second.drift["against"] == first.pk
    assert abs(second.drift["largest"]) < 0.01 and second.drift["rms"] < 0.005
    # Each scan is read with the one that was valid on its day.
    assert calibration_for(lab.strip).row == first
    lab.strip.scanned_on = DAY + timedelta(days=8)
    assert calibration_for(lab.strip).row == second


def test_drift_finds_a_shift_of_known_size(lab):
    before = calibration_row(lab.strip)
    now = calibration_from_dict(before.document)
    moved = calibration_from_dict(json.loads(json.dumps(before.document)))
    dark = moved.response.dark_level
    moved.response.level[:] = dark + (moved.response.level - dark) * 10**-0.03  # the lamp gives less light
    drift = drift_document(before, moved)
    assert drift["largest"] == pytest.approx(-0.03, abs=0.002)
    assert drift_document(before, now)["largest"] == pytest.approx(0.0, abs=1e-6)
    assert drift_document(None, now) == {}


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"shows": "strip"}, "this one shows something else"),
        ({"scanner": None}, "which scanner made this scan"),
        ({"tablet": None}, "which step tablet"),
        ({"settings": SETTINGS | {"exposure": "Automatic"}}, "Exposure was automatic"),
    ],
)
def test_what_stands_against_calibrating_is_said_at_once(lab, owner, change, words):
    for name, value in change.items():
        setattr(lab.tablet, name, value)
    lab.tablet.save()
    with pytest.raises(WrongState, match=words):
        calibrate_scanner(actor=owner, scan_id=lab.tablet.pk)


def test_a_tablet_without_densities_in_force_calibrates_nothing(lab, owner):
    lab.tablet.tablet.revisions.update(state=RevisionState.DRAFT)
    with pytest.raises(WrongState, match="no calibration in force"):
        calibrate_scanner(actor=owner, scan_id=lab.tablet.pk)


def test_unread_steps_and_odd_days_are_refused(lab, owner, visitor):
    with pytest.raises(WrongState, match="not read yet"):
        calibrate_scanner(actor=owner, scan_id=lab.tablet.pk)
    with pytest.raises(InvalidInput, match="1 to 365 days"):
        calibrate_scanner(actor=owner, scan_id=lab.tablet.pk, valid_days=0)
    with pytest.raises(NotAllowed):
        calibrate_scanner(actor=visitor, scan_id=lab.tablet.pk)


def calibrated_from(lab, owner, samples) -> Job:
    """The job that tried to calibrate from these pixels."""
    scan = scan_row(owner, samples, Shows.TABLET, scanner=lab.scanner, tablet=lab.tablet.tablet, name="odd")
    request_measuring(scan=scan)
    run_waiting_jobs()
    calibrate_scanner(actor=owner, scan_id=scan.pk)
    run_waiting_jobs()
    return last_job("calibrate_scanner")


def test_densities_that_fit_no_response_are_refused_with_what_to_check(lab, owner):
    for step in lab.tablet.tablet.revisions.get().steps.all():  # the densities of another tablet
        step.density += 0.04 * (-1) ** step.step
        step.save()
    job = calibrated_from(lab, owner, tablet_picture())
    assert job.state == Job.State.FAILED and job.error_code == "POOR_FIT"
    assert "scatter" in job.error_text and "tablet is the one that was named" in job.error_text
    assert not ScannerCalibration.objects.exists()


def test_too_many_saturated_steps_are_refused(lab, owner):
    bright = np.minimum(tablet_picture().astype(float) * 30, 65535).astype(np.uint16)
    scan_job = None
    try:
        scan_job = calibrated_from(lab, owner, bright)
    except WrongState as refusal:  # where so much is white that no tablet is found
        assert "not read yet" in refusal.message
    if scan_job is not None:
        assert scan_job.error_code == "TOO_FEW_STEPS"
        assert "less exposure" in scan_job.error_text
    assert not ScannerCalibration.objects.exists()


def test_only_an_admin_voids_and_only_with_a_reason(lab, owner, admin):
    row = calibration_row(lab.strip)
    with pytest.raises(NotAllowed):
        void_calibration(actor=owner, calibration_id=row.pk, reason="dust")
    with pytest.raises(InvalidInput):
        void_calibration(actor=admin, calibration_id=row.pk, reason="  ")
    void_calibration(actor=admin, calibration_id=row.pk, reason="Dust on the tablet.")
    with pytest.raises(WrongState):
        void_calibration(actor=admin, calibration_id=row.pk, reason="again")


def test_voiding_finds_all_that_rests_on_it_and_deletes_nothing(owner, admin, client_for):
    lab = make_scan_lab(owner, admin)
    scan = bare_scan(owner, lab.roll, lab.scanner)
    row = calibration_row(scan)
    measurement = measurement_row(scan, {1: 1.8, 2: 1.71, 0: 0.25})
    take_densities(actor=owner, scan_id=scan.pk)
    readings = list(lab.roll.strips.get().readings.order_by("pk").values())
    void_calibration(actor=admin, calibration_id=row.pk, reason="The tablet lay askew.")
    measurement.refresh_from_db()
    assert not measurement.is_current
    assert list(lab.roll.strips.get().readings.order_by("pk").values()) == readings
    resting = resting_on(row)
    assert [(roll.pk, count) for roll, count in resting.rolls] == [(lab.roll.pk, 3)]
    assert [each.pk for each in resting.measurements] == [measurement.pk]
    assert Job.objects.filter(kind="measure_scan", subject={"scan_id": scan.pk}).exists()
    said = client_for(owner).get(reverse("calibration", args=[row.pk])).content.decode()
    assert "The tablet lay askew." in said and lab.roll.code in said
    said = client_for(owner).get(reverse("scan", args=[scan.pk])).content.decode()
    assert "The tablet lay askew." in said and "with a calibration that is void now" in said


def test_after_voiding_the_one_before_stands_again_as_far_as_it_is_valid(lab, admin):
    former = calibration_row(lab.strip, state=CalibrationState.SUPERSEDED)
    newer = calibration_row(lab.strip, made_on=DAY + timedelta(days=3))
    lab.strip.scanned_on = DAY + timedelta(days=4)
    assert calibration_for(lab.strip).row == newer
    void_calibration(actor=admin, calibration_id=newer.pk, reason="Wrong tablet.")
    former.refresh_from_db()
    assert former.state == CalibrationState.IN_FORCE
    assert calibration_for(lab.strip).row == former


def test_a_voided_scan_does_not_calibrate_again(lab, owner, admin):
    row = lab.calibrate()
    void_calibration(actor=admin, calibration_id=row.pk, reason="Finger on the tablet.")
    run_waiting_jobs()
    assert current_measurement(lab.strip).document["withheld"]["code"] == "UNCALIBRATED"
    calibrate_scanner(actor=owner, scan_id=lab.tablet.pk)
    run_waiting_jobs()
    assert "Finger on the tablet." in last_job("calibrate_scanner").error_text


def test_a_calibration_that_was_tampered_with_is_not_read_with(lab):
    row = calibration_row(lab.strip)
    row.document["response"]["density"][0] += 0.1
    row.save()
    assert calibration_for(lab.strip).withheld.code == "TAMPERED"


def test_the_downloaded_file_lets_the_command_read_the_same_densities(
    lab, owner, client_for, tmp_path, capsys
):
    row = lab.calibrate()
    answer = client_for(owner).get(reverse("calibration_download", args=[row.pk]))
    file = tmp_path / "calibration.json"
    file.write_bytes(answer.content)
    assert json.loads(answer.content) == portable_calibration(row)
    # The command asks whether it is valid today; the lab asks on the scan's day.
    made = json.loads(answer.content)
    assert made["valid_days"] == 30
    with mock.patch("scans.management.commands.measure_scan.datetime") as clock:
        clock.datetime.now.return_value.date.return_value = DAY
        options = ["--kind", "tablet", "--steps", "21", "--film", "--format", "json"]
        call_command("measure_scan", str(lab.strip.file.path), *options, "--calibration", str(file))
    report = json.loads(capsys.readouterr().out)
    areas = areas_by_step(current_measurement(lab.strip))
    ours = [areas[step]["density"]["value"] for step in range(21, 0, -1)]
    assert [area["density"]["value"] for area in report["areas"]] == pytest.approx(ours, abs=2e-5)


def test_the_list_of_scanners_says_age_validity_drift_and_range(lab, owner, admin, client_for):
    calibration_row(lab.strip)
    make_scanner(admin, "Camera stand")
    make_instrument(admin, "Densitometer 2")
    rows = {row.scanner.name: row for row in scanner_rows(owner)}
    assert set(rows) == {"Flatbed 3", "Camera stand"}
    assert rows["Camera stand"].setups == ()
    (setup,) = rows["Flatbed 3"].setups
    assert setup.valid_until == DAY + timedelta(days=30)
    assert setup.density_range.startswith("0.05 to ")
    said = client_for(owner).get(reverse("scanner_list")).content.decode()
    assert "Never calibrated" in said and "the first of this set-up" in said


def test_a_calibrations_page_says_flare_and_dark_level_apart_only_where_the_dark_was_measured(
    lab, owner, client_for
):
    row = calibration_row(lab.strip)  # of a scanner without flare, its dark level of 20 measured
    address = reverse("calibration", args=[row.pk])
    said = client_for(owner).get(address).content.decode()
    assert "<dt>Flare</dt>" in said and "20 in the file, as measured" in said
    flare = float(re.search(r"<dt>Flare</dt><dd>(\S+) %", said)[1].replace("−", "-"))
    assert flare == pytest.approx(0.0, abs=0.02)
    row.document["response"] |= {"dark_level": 0.0, "flare": 0.0064}
    row.save()
    said = client_for(owner).get(address).content.decode()
    assert "<dt>Flare and dark level</dt><dd>+0.64 %" in said and "as measured" not in said


def test_the_list_takes_no_more_queries_for_more_calibrations(
    lab, owner, client_for, django_assert_num_queries
):
    client = client_for(owner)
    calibration_row(lab.strip, state=CalibrationState.SUPERSEDED)
    with CaptureQueriesContext(
        connection,
    ) as few:
        client.get(reverse("scanner_list"))
    for days in (1, 2, 3):
        calibration_row(lab.strip, made_on=DAY + timedelta(days=days), state=CalibrationState.SUPERSEDED)
    with django_assert_num_queries(len(few)):
        client.get(reverse("scanner_list"))
