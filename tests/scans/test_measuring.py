"""Measuring a scan: found or placed, read, withheld with its reason, stored once for its inputs."""

from datetime import timedelta

import numpy as np
import pytest
from django.core.management import call_command

from labsite.common.errors import WrongState
from labsite.jobs.models import Job
from labsite.jobs.runner import run_waiting_jobs
from scans.imaging import IMAGING_VERSION
from scans.models import FileState, Measurement, Placement, Shows
from scans.queries.measured import current_measurement
from scans.services.measuring import measure_again, request_measuring
from tests.factories.scans import (
    DAY,
    SETTINGS,
    areas_by_step,
    film_densities,
    last_job,
    make_scan_lab,
    make_scanner,
    scan_row,
    strip_scan,
)


@pytest.fixture
def lab(owner, admin, settings, tmp_path):
    """A lab whose scans lie in a folder of the test's own."""
    settings.MEDIA_ROOT = tmp_path
    return make_scan_lab(owner, admin)


def measured(scan) -> Measurement:
    """The measurement that stands after measuring."""
    request_measuring(scan=scan)
    run_waiting_jobs()
    return current_measurement(scan)


def test_nothing_is_asked_for_where_nothing_can_be_measured(lab):
    lab.strip.shows = Shows.UNKNOWN
    assert request_measuring(scan=lab.strip) is None
    lab.strip.shows = Shows.STRIP
    lab.strip.file.state = FileState.VIEW_ONLY
    assert request_measuring(scan=lab.strip) is None
    assert not Job.objects.filter(kind="measure_scan").exists()


def test_asking_twice_waits_for_one_job(lab):
    assert request_measuring(scan=lab.strip) == request_measuring(scan=lab.strip)


def test_without_a_calibration_steps_are_found_and_their_densities_withheld(lab):
    found = measured(lab.strip)
    assert found.document["withheld"]["code"] == "UNCALIBRATED"
    assert "never calibrated" in found.document["withheld"]["text"]
    assert "calibrate" in found.document["withheld"]["advice"]
    areas = found.document["areas"]
    assert {area["density"]["reason"] for area in areas} == {"UNCALIBRATED"}
    assert all(area["density"]["value"] is None and area["level"] > 0 for area in areas)


def test_steps_of_a_film_are_numbered_from_its_densest(lab):
    assert [area["step"] for area in measured(lab.strip).document["areas"]] == list(range(21, 0, -1))
    assert [area["step"] for area in measured(lab.tablet).document["areas"]] == list(range(1, 22))


def test_densities_come_within_six_thousandths_of_the_truth(lab, decoding_child):
    lab.calibrate()
    areas = areas_by_step(current_measurement(lab.strip))
    truth = film_densities(lab.roll)
    errors = [areas[step]["density"]["value"] - truth[step] for step in truth]
    assert len(errors) == 21
    assert np.sqrt(np.mean(np.square(errors))) < 0.006
    inside = [areas[s]["density"]["low"] <= truth[s] <= areas[s]["density"]["high"] for s in truth]
    assert np.mean(inside) >= 0.9  # they hold 95 % of cases


def test_unexposed_film_beside_the_strip_is_read_and_said_to_be_a_guess(lab):
    lab.calibrate()
    unexposed = areas_by_step(current_measurement(lab.strip))[0]
    assert unexposed["density"]["value"] == pytest.approx(0.25, abs=0.006)
    assert "BESIDE_THE_STRIP" in [flag["code"] for flag in unexposed["flags"]]


@pytest.mark.parametrize(
    ("margins", "density"),
    [((0.0, 0.0), 0.25), ((2.5, 2.5), 1.6), ((2.5, 2.5), 0.0)],
    ids=["no film there", "it got light", "clear as an empty gate"],
)
def test_what_is_not_surely_unexposed_film_is_not_taken_for_it(lab, owner, margins, density):
    lab.calibrate()
    scene = {"margins": margins, "margin_density": density, "seed": 5}
    other = strip_scan(owner, lab.roll, lab.scanner, scene=scene)
    found = measured(other)
    assert found is not None
    assert 0 not in areas_by_step(found)


def test_running_a_job_twice_adds_nothing(lab):
    lab.calibrate()
    before = list(Measurement.objects.order_by("pk").values("pk", "is_current", "document"))
    placed = Placement.objects.count()
    for scan in (lab.tablet, lab.strip):
        request_measuring(scan=scan)
    run_waiting_jobs()
    assert list(Measurement.objects.order_by("pk").values("pk", "is_current", "document")) == before
    assert Placement.objects.count() == placed


def test_a_measurement_is_never_changed_but_followed(lab):
    first = measured(lab.strip)
    document = first.document
    lab.calibrate()
    second = current_measurement(lab.strip)
    first.refresh_from_db()
    assert first.document == document and not first.is_current
    assert second.is_current and second.pk != first.pk and second.calibration is not None


@pytest.mark.parametrize(
    ("change", "code", "words"),
    [
        ({"settings": SETTINGS | {"holder": "glass"}}, "OTHER_SETTINGS", "holder film there, glass here"),
        ({"scanned_on": DAY + timedelta(days=31)}, "EXPIRED", "31 days after it"),
        ({"scanned_on": DAY - timedelta(days=1)}, "EXPIRED", "first calibrated"),
        ({"scanner": None}, "UNCALIBRATED", "Nobody said which scanner"),
        ({"told_resolution_ppi": 1200.0}, "OTHER_SETTINGS", "1200 by 1200 here"),
    ],
)
def test_only_like_is_read_with_like(lab, change, code, words):
    lab.calibrate()
    for name, value in change.items():
        setattr(lab.strip, name, value)
    lab.strip.save()
    found = measured(lab.strip)
    assert found.calibration is None
    assert found.document["withheld"]["code"] == code
    assert words in found.document["withheld"]["text"]
    assert found.document["withheld"]["advice"]
    assert all(area["density"]["value"] is None for area in found.document["areas"])
    assert {area["density"]["reason"] for area in found.document["areas"]} == {code}


def test_another_scanner_of_the_same_kind_is_another_scanner(lab, admin):
    lab.calibrate()
    lab.strip.scanner = make_scanner(admin, "Flatbed 4")
    lab.strip.save()
    withheld = measured(lab.strip).document["withheld"]
    assert withheld["code"] == "OTHER_SCANNER"
    assert withheld["text"] == "Only Flatbed 3 is calibrated, not Flatbed 4."


def test_settings_typed_with_other_case_and_spacing_are_the_same(lab):
    lab.calibrate()
    lab.strip.settings = {name: f"  {value.upper()} " for name, value in SETTINGS.items()}
    lab.strip.save()
    assert measured(lab.strip).document["withheld"] is None


def test_a_renamed_scanner_keeps_its_calibration(lab):
    lab.calibrate()
    lab.scanner.name = "Flatbed by the window"
    lab.scanner.save()
    lab.strip.refresh_from_db()
    assert measured(lab.strip).document["withheld"] is None


def test_a_picture_without_a_tablet_leaves_a_placement_that_says_why(lab, owner):
    rng = np.random.default_rng(3)
    empty = rng.normal(30000, 300, (400, 900)).astype(np.uint16)
    scan = scan_row(owner, empty, Shows.TABLET, scanner=lab.scanner, name="empty", tablet=lab.tablet.tablet)
    assert measured(scan) is None
    placement = scan.placements.get()
    assert placement.refusal_code and "tablet" in placement.refusal_text
    request_measuring(scan=scan)
    run_waiting_jobs()
    assert scan.placements.count() == 1


def test_what_is_no_longer_found_lets_no_number_stand(lab):
    assert measured(lab.strip) is not None
    lab.strip.shows = Shows.FRAME
    lab.strip.save()
    assert measured(lab.strip) is None
    assert not lab.strip.measurements.filter(is_current=True).exists()
    assert lab.strip.placements.first().refusal_code == "TARGET_NOT_FOUND"


def test_a_file_that_is_gone_fails_the_job_and_says_so(lab, decoding_child):
    lab.strip.file.path.unlink()
    request_measuring(scan=lab.strip)
    run_waiting_jobs()
    job = last_job("measure_scan")
    assert job.state == Job.State.FAILED
    assert "cannot be opened" in job.error_text


def test_after_an_upgrade_scans_of_an_older_engine_are_measured_anew(lab, capsys):
    older = measured(lab.strip)
    measured(lab.tablet)
    Measurement.objects.filter(pk=older.pk).update(engine_version="0", input_digest="of the older engine")
    call_command("remeasure_scans")
    assert "1 scan." in capsys.readouterr().out
    run_waiting_jobs()
    newer = current_measurement(lab.strip)
    assert newer.pk != older.pk and newer.engine_version == IMAGING_VERSION
    assert Measurement.objects.get(pk=older.pk).engine_version == "0"
    call_command("remeasure_scans")
    assert "already" in capsys.readouterr().out


def test_measuring_again_is_for_members_and_for_what_can_be_measured(lab, labmate, visitor):
    from labsite.common.errors import NotAllowed

    assert measure_again(actor=labmate, scan_id=lab.strip.pk).kind == "measure_scan"
    with pytest.raises(NotAllowed):
        measure_again(actor=visitor, scan_id=lab.strip.pk)
    lab.strip.shows = ""
    lab.strip.save()
    with pytest.raises(WrongState):
        measure_again(actor=labmate, scan_id=lab.strip.pk)
