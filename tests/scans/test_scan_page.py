"""The page of a scan: numbers as in the document, reasons in words, what can be done and by whom."""

import re
import shutil

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from labsite.common.errors import NotFound
from labsite.jobs.runner import run_waiting_jobs
from scans.models import FileState, Shows
from scans.queries.measured import current_measurement, other_fields, shown_density
from scans.queries.scan_page import scan_page
from scans.services.calibrating import calibrate_scanner
from scans.services.measuring import request_measuring
from scans.services.viewing import request_tiles
from tests.factories.pictures import picture_scan
from tests.factories.scans import areas_by_step, calibration_row, make_scan_lab, scan_row


@pytest.fixture
def lab(owner, admin, settings, tmp_path):
    """A lab whose scans lie in a folder of the test's own."""
    settings.MEDIA_ROOT = tmp_path
    return make_scan_lab(owner, admin)


def text_of(answer) -> str:
    """What a page says, without its tags."""
    return " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).split())


def densities_of(scan) -> dict:
    """What stands, by step."""
    areas = areas_by_step(current_measurement(scan))
    return {step: area["density"]["value"] for step, area in areas.items()}


def test_every_density_on_the_page_is_that_of_the_document(lab, owner, client_for):
    lab.calibrate()
    answer = client_for(owner).get(reverse("scan", args=[lab.strip.pk]))
    assert answer.status_code == 200
    areas = current_measurement(lab.strip).document["areas"]
    rows = re.findall(
        r'<th scope="row">([^<]+)</th><td class="number">(\d\.\d{3})</td>', answer.content.decode()
    )
    assert dict(rows) == {area["label"]: f"{shown_density(area):.3f}" for area in areas}
    assert len(rows) == 22
    document = client_for(owner).get(reverse("scan_document", args=[lab.strip.pk])).json()
    assert document == current_measurement(lab.strip).document


def test_the_overlay_shows_the_same_labels_and_values_as_the_table(lab, owner):
    lab.calibrate()
    shown = scan_page(owner, lab.strip.pk)
    drawn = [(area["label"], area["text"]) for area in shown.source["areas"]]
    assert drawn == [(area.label, area.density_text) for area in shown.areas]


def test_before_calibration_the_page_says_why_and_what_to_do(lab, owner, client_for):
    request_measuring(scan=lab.strip)
    run_waiting_jobs()
    said = text_of(client_for(owner).get(reverse("scan", args=[lab.strip.pk])))
    assert "Flatbed 3 was never calibrated." in said
    assert "calibrate from it" in said
    assert "withheld" in said


def test_a_scan_that_is_not_described_leads_to_its_description_and_shows_no_areas(lab, owner, client_for):
    lab.strip.shows = Shows.UNKNOWN
    lab.strip.save()
    request_tiles(file=lab.strip.file)
    run_waiting_jobs()
    answer = client_for(owner).get(reverse("scan", args=[lab.strip.pk]))
    content = answer.content.decode()
    assert reverse("scan_describe", args=[lab.strip.pk]) in content
    assert "data-picture-look" in content and "what is dense looks dark" in content
    assert "data-area-editor" not in content and "What to do" not in content


def test_while_areas_are_looked_for_nothing_is_said_to_be_missing(lab, owner, client_for):
    request_measuring(scan=lab.strip)
    assert "still looking" in text_of(client_for(owner).get(reverse("scan", args=[lab.strip.pk])))
    run_waiting_jobs()
    assert "still looking" not in text_of(client_for(owner).get(reverse("scan", args=[lab.strip.pk])))


def test_the_tablets_page_says_what_comes_next(lab, owner, client_for):
    address = reverse("scan", args=[lab.tablet.pk])
    request_measuring(scan=lab.tablet)
    run_waiting_jobs()
    said = text_of(client_for(owner).get(address))
    assert "next, use the scan as calibration" in said and "No densities are shown" not in said
    calibrate_scanner(actor=owner, scan_id=lab.tablet.pk)
    run_waiting_jobs()
    said = text_of(client_for(owner).get(address))
    assert "The scanner is calibrated by this scan." in said and "what is dense looks bright" in said


def test_a_refused_file_says_why_and_shows_no_form(lab, owner, client_for):
    file = lab.strip.file
    file.state, file.refusal_text = FileState.VIEW_ONLY, "Eight bits a sample are too coarse."
    file.save()
    answer = client_for(owner).get(reverse("scan", args=[lab.strip.pk]))
    assert "Eight bits a sample are too coarse." in text_of(answer)
    assert reverse("scan_measure", args=[lab.strip.pk]) not in answer.content.decode()


def test_what_was_not_found_is_said_and_corners_can_be_typed(lab, owner, client_for):
    noise = np.random.default_rng(1).normal(30000, 300, (300, 600)).astype(np.uint16)
    scan = scan_row(
        owner, noise, Shows.STRIP, scanner=lab.scanner, name="bare", roll=lab.roll, strip=lab.strip.strip
    )
    request_measuring(scan=scan)
    run_waiting_jobs()
    answer = client_for(owner).get(reverse("scan", args=[scan.pk]))
    assert scan.placements.get().refusal_text in text_of(answer)
    assert 'name="outline"' in answer.content.decode()
    assert 'name="darkens"' in answer.content.decode()


def test_bad_corners_come_back_as_typed_with_the_corner_named(lab, owner, client_for):
    typed = "[[10, 10], [5000, 10], [90, 50], [10, 50]]"
    address = reverse("scan_place", args=[lab.strip.pk])
    answer = client_for(owner).post(address, {"outline": typed, "darkens": "right"})
    assert answer.status_code == 400
    assert "The second corner (5000, 10) is outside the picture" in text_of(answer)
    assert "5000" in answer.content.decode().split('name="outline"')[1][:200]
    assert not lab.strip.placements.exists()
    answer = client_for(owner).post(address, {"outline": "ten by ten"})
    assert "four pairs of numbers" in text_of(answer)


def test_the_actions_do_what_they_say(lab, owner, client_for):
    lab.calibrate()
    client = client_for(owner)
    before = {
        area["step"]: area["density"]["value"] for area in current_measurement(lab.strip).document["areas"]
    }
    client.post(reverse("scan_turn_over", args=[lab.strip.pk]))
    run_waiting_jobs()
    after = {
        area["step"]: area["density"]["value"] for area in current_measurement(lab.strip).document["areas"]
    }
    assert after[1] == pytest.approx(before[21]) and after[21] == pytest.approx(before[1])
    assert lab.strip.placements.first().darkens == "left"
    client.post(reverse("scan_measure", args=[lab.strip.pk]), {"areas": "anew"})
    run_waiting_jobs()
    again = {
        area["step"]: area["density"]["value"] for area in current_measurement(lab.strip).document["areas"]
    }
    assert again == before


def test_an_unexposed_area_can_be_placed(lab, owner, client_for):
    lab.calibrate()
    first = lab.strip.placements.first().areas[0]["corners"]
    box = {"left_px": first[0][0], "top_px": first[0][1], "width_px": 20, "height_px": 60}
    answer = client_for(owner).post(reverse("scan_unexposed", args=[lab.strip.pk]), box)
    assert answer.status_code == 302
    run_waiting_jobs()
    unexposed = [area for area in current_measurement(lab.strip).document["areas"] if area["step"] == 0]
    assert len(unexposed) == 1
    assert unexposed[0]["location"][0] == pytest.approx(first[0], abs=0.01)
    answer = client_for(owner).post(reverse("scan_unexposed", args=[lab.strip.pk]), box | {"left_px": "-90"})
    assert answer.status_code == 400 and "outside the picture" in text_of(answer)


def test_only_members_see_a_scan(lab, visitor):
    with pytest.raises(NotFound):
        scan_page(visitor, lab.strip.pk)


def test_a_picture_that_is_gone_is_made_ready_anew(lab, owner, client_for):
    request_tiles(file=lab.strip.file)
    run_waiting_jobs()
    shutil.rmtree(lab.strip.file.pyramids.get().folder)
    address = reverse("scan", args=[lab.strip.pk])
    assert "being made ready" in text_of(client_for(owner).get(address))
    run_waiting_jobs()
    answer = client_for(owner).get(address)
    assert "being made ready" not in text_of(answer)
    assert reverse("scan_thumbnail", args=[lab.strip.pk]) in answer.content.decode()


def test_a_page_takes_few_queries(lab, owner, client_for, django_assert_max_num_queries):
    lab.calibrate()
    client = client_for(owner)
    with django_assert_max_num_queries(45):
        client.get(reverse("scan", args=[lab.strip.pk]))


def test_a_fields_page_takes_no_more_queries_for_more_scans(lab, owner, client_for):
    calibration_row(lab.strip)
    told = {"value": 9.4, "low": 9.0, "high": 9.8}
    field = picture_scan(owner, lab.roll, lab.scanner, measure=told)
    client = client_for(owner)

    def count() -> int:
        with CaptureQueriesContext(connection) as queries:
            assert client.get(reverse("scan", args=[field.pk])).status_code == 200
        return len(queries)

    count()  # what a first visit alone asks for
    alone = count()
    for _ in range(5):
        picture_scan(owner, lab.roll, lab.scanner, measure=told)
    assert len(other_fields(field)) == 5
    assert count() == alone
