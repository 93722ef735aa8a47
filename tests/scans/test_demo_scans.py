"""The demo lab's scans are found, calibrated and measured by jobs, and true to what was drawn."""

from datetime import date

import numpy as np
import pytest

from curves.models import Roll
from labsite.accounts.models import User
from labsite.demo.build import build_demo_lab
from labsite.demo.scans import CLOSELY_SCANNED, FRAMES, GRAIN_AND_SHARPNESS, STRIP_OF
from labsite.demo.scenario import STOCKS
from labsite.jobs.models import Job
from scans.models import CalibrationState, Measurement, Scan, ScannerCalibration, Shows, TilePyramid
from scans.queries.side_by_side import newest_of_each_stock, side_by_side

TODAY = date(2026, 11, 20)


@pytest.mark.full
def test_the_demo_labs_scans_are_what_they_were_drawn_from(db, settings, tmp_path):
    """One test, for drawing and measuring them takes longer than the whole lab beside."""
    settings.DATA_DIR, settings.MEDIA_ROOT = tmp_path, tmp_path / "files"
    build_demo_lab(today=TODAY, with_scans=True)
    assert_every_job_ended_well_and_every_scan_has_what_it_should()
    assert_the_strips_densities_became_readings_that_are_true_to_the_emulsion()
    assert_frames_are_found_and_side_by_side_at_one_grey()
    assert_both_fields_of_a_stock_have_grain_by_the_calibration()
    assert_the_rolls_come_after_all_others()


def assert_every_job_ended_well_and_every_scan_has_what_it_should():
    # Sheets are published by the site that is started next.
    wrong = Job.objects.exclude(state="done").exclude(kind="publish_sheet", state="queued")
    assert not list(wrong.values_list("label", "error_text"))
    shows = list(Scan.objects.values_list("shows", flat=True))
    counted = {kind: shows.count(kind) for kind in set(shows)}
    assert counted == {"tablet": 2, "strip": 1, "frame": 4, "field": 6, "edge": 3}
    assert ScannerCalibration.objects.filter(state=CalibrationState.IN_FORCE).count() == 2
    assert Measurement.objects.filter(is_current=True).count() == len(shows)
    for scan in Scan.objects.all():
        pyramids = TilePyramid.objects.filter(file=scan.file)
        assert all((pyramid.folder / "thumbnail.png").is_file() for pyramid in pyramids)


def assert_the_strips_densities_became_readings_that_are_true_to_the_emulsion():
    roll = Scan.objects.get(shows=Shows.STRIP).roll
    assert roll.batch.stock.name == STRIP_OF and roll.state == "accepted"
    readings = roll.strips.get().readings.filter(is_current=True, step__gt=0)
    assert readings.count() >= 18 and {reading.source for reading in readings} == {"scan"}
    truth = next(stock.emulsion for stock in STOCKS if stock.name == STRIP_OF)
    point = roll.current_analysis.measures["speed_point_log_exposure"]
    # The second revision's shift is 0.02; tablet and scanner know their densities to some 0.01 to 0.02 D,
    # which at the toe's gradient of a quarter is 0.08 in log exposure.
    assert point["value"] == pytest.approx(truth.speed_log_h + 0.02, abs=0.08)


def assert_frames_are_found_and_side_by_side_at_one_grey():
    bram = User.objects.get(username="bram")
    view = side_by_side(bram, newest_of_each_stock(bram))
    assert view.panes[0].stock == "Wrensfell 100" and view.panes[0].is_reference
    assert {pane.stock for pane in view.panes} == set(FRAMES)
    assert view.basis == "film" and view.notes == ()
    for pane in view.panes:
        assert pane.is_registered and pane.differences == ()
        assert pane.is_mirrored == FRAMES[pane.stock]["mirrored"]
        assert pane.degrees == pytest.approx(-FRAMES[pane.stock]["angle_deg"], abs=0.1)
        assert pane.coding.kind == "density" and pane.offset_value is not None
    assert max(abs(pane.offset_value) for pane in view.panes) > 0.05


def assert_both_fields_of_a_stock_have_grain_by_the_calibration():
    values = {}
    for measured in Measurement.objects.filter(kind="grain", is_current=True).exclude(scan__roll=None):
        name = measured.scan.roll.batch.stock.name
        found = [patch["rms_granularity"]["value"] for patch in measured.document["patches"]]
        values.setdefault(name, []).extend(found)
    assert set(values) == set(CLOSELY_SCANNED)
    for found in values.values():
        assert found and all(value is not None and value > 0 for value in found)
    finest, coarsest = (max(values[name]) for name in CLOSELY_SCANNED)
    assert coarsest > finest, "16 against 9 by what they were drawn from"


def assert_the_rolls_come_after_all_others():
    scanned = {scan.roll_id for scan in Scan.objects.exclude(roll=None)}
    assert len(scanned) == len(GRAIN_AND_SHARPNESS)
    assert min(scanned) > max(Roll.objects.exclude(pk__in=scanned).values_list("pk", flat=True))
    assert np.all([Roll.objects.get(pk=pk).state == "accepted" for pk in scanned])
