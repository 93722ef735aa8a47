"""Placing areas by hand: kept as revisions, checked corner by corner, above what the lab finds."""

import pytest

from labsite.common.errors import InvalidInput, NotAllowed, NotFound, WrongState
from labsite.jobs.models import Job
from labsite.jobs.runner import run_waiting_jobs
from scans.models import FileState, Placement, Shows
from scans.queries.measured import current_measurement
from scans.services.placing import (
    FoundAreas,
    place_areas,
    place_unexposed,
    store_found_areas,
    turn_strip_over,
)
from tests.factories.rolls import make_batch, make_roll, make_standards
from tests.factories.scans import areas_by_step, bare_scan, make_scan_lab, make_scanner, scan_row

BOX = [[50, 10], [350, 10], [350, 50], [50, 50]]


@pytest.fixture(autouse=True)
def scan_files(settings, tmp_path):
    """Scans lie in a folder of the test's own."""
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def scan(owner, admin):
    """A scan of a strip over a picture of 400 by 60 pixels, not measured."""
    roll = make_roll(owner, make_batch(owner), make_standards(admin))
    return bare_scan(owner, roll, make_scanner(admin))


def test_four_corners_become_an_area_a_step(scan, labmate):
    placed = place_areas(actor=labmate, scan_id=scan.pk, outline=BOX, darkens="left")
    assert (placed.origin, placed.layout, placed.darkens) == ("placed", "steps-21", "left")
    assert placed.placed_by == labmate
    assert len(placed.areas) == 21
    first = [sum(corner[0] for corner in placed.areas[end]["corners"]) / 4 for end in (0, -1)]
    assert first[0] > first[1]  # the lightest lies at the right
    assert Job.objects.filter(dedupe_key=f"measure_scan:{scan.pk}").exists()


def test_every_placement_is_kept_and_the_same_one_is_not_kept_twice(scan, owner):
    for outline in (BOX, BOX, [[60, 10], *BOX[1:]]):
        place_areas(actor=owner, scan_id=scan.pk, outline=outline, darkens="right")
    assert [p.number for p in scan.placements.all()] == [2, 1]


@pytest.mark.parametrize(
    ("outline", "words"),
    [
        ([[50, 10], [900, 10], [350, 50], [50, 50]], r"second corner \(900, 10\) is outside the picture"),
        ([[50, 10], [350, 10], [50, 50], [350, 50]], "bends inwards or crosses itself at the"),
        ([[50, 10], [55, 10], [350, 50], [50, 50]], "second corner is nearer than 12 pixels"),
        ([[50, 10], [350, 10], [350, 50]], "four corners"),
        ([[50, 10], [350, 10], [350, 50], [50, float("nan")]], "four corners"),
        ("about the middle", "four corners"),
        (None, "four corners"),
    ],
)
def test_impossible_corners_are_refused_by_name(scan, owner, outline, words):
    with pytest.raises(InvalidInput, match=words) as refusal:
        place_areas(actor=owner, scan_id=scan.pk, outline=outline, darkens="right")
    assert refusal.value.field == "outline"
    assert not scan.placements.exists()


def test_steps_need_the_way_they_darken(scan, owner):
    with pytest.raises(InvalidInput, match="which way") as refusal:
        place_areas(actor=owner, scan_id=scan.pk, outline=BOX)
    assert refusal.value.field == "darkens"


def test_what_cannot_be_measured_cannot_be_placed(scan, owner, visitor):
    with pytest.raises(NotAllowed):
        place_areas(actor=visitor, scan_id=scan.pk, outline=BOX, darkens="right")
    with pytest.raises(NotFound):
        place_areas(actor=owner, scan_id=scan.pk + 1, outline=BOX, darkens="right")
    scan.file.state, scan.file.refusal_text = FileState.VIEW_ONLY, "Eight bits."
    scan.file.save()
    with pytest.raises(WrongState, match="for looking only"):
        place_areas(actor=owner, scan_id=scan.pk, outline=BOX, darkens="right")
    scan.shows = Shows.UNKNOWN
    scan.save()
    with pytest.raises(WrongState, match="what the scan shows"):
        place_areas(actor=owner, scan_id=scan.pk, outline=BOX, darkens="right")


def test_a_target_and_fields_have_layouts_of_their_own(scan, owner):
    scan.shows = Shows.FRAME
    scan.save()
    target = place_areas(actor=owner, scan_id=scan.pk, outline=BOX)
    assert target.layout == "target" and "grey card" in [area["label"] for area in target.areas]
    scan.shows = Shows.FIELD
    scan.save()
    other = [[10, 10], [40, 10], [40, 50], [10, 50]]
    fields = place_areas(actor=owner, scan_id=scan.pk, outline=BOX, fields=[other])
    assert fields.layout == "whole"
    assert [area["label"] for area in fields.areas] == ["field 1", "field 2"]


def test_turning_over_needs_steps(scan, owner):
    with pytest.raises(WrongState, match="no steps"):
        turn_strip_over(actor=owner, scan_id=scan.pk)
    place_areas(actor=owner, scan_id=scan.pk, outline=BOX, darkens="right")
    before = scan.placements.first().areas
    turned = turn_strip_over(actor=owner, scan_id=scan.pk)
    assert turned.darkens == "left"
    assert [area["corners"] for area in turned.areas] == [area["corners"] for area in reversed(before)]
    assert [area["label"] for area in turned.areas] == [area["label"] for area in before]
    assert turn_strip_over(actor=owner, scan_id=scan.pk).areas == before


def test_an_unexposed_area_stays_when_the_steps_are_placed_anew(scan, owner):
    spot = [[360, 10], [390, 10], [390, 50], [360, 50]]
    with pytest.raises(WrongState, match="place them by hand first"):
        place_unexposed(actor=owner, scan_id=scan.pk, corners=spot)
    place_areas(actor=owner, scan_id=scan.pk, outline=BOX, darkens="right")
    place_unexposed(actor=owner, scan_id=scan.pk, corners=spot)
    moved = place_areas(actor=owner, scan_id=scan.pk, outline=[[60, 10], *BOX[1:]], darkens="right")
    assert moved.areas[-1] == {"label": "unexposed", "corners": spot, "is_unexposed": True}
    turned = turn_strip_over(actor=owner, scan_id=scan.pk)
    assert turned.areas[-1]["is_unexposed"]


def test_what_somebody_placed_meanwhile_is_not_overtaken_by_what_was_found(scan, owner):
    placed = place_areas(actor=owner, scan_id=scan.pk, outline=BOX, darkens="right")
    found = FoundAreas("steps-21", refusal_code="TABLET_NOT_FOUND", refusal_text="None.")
    assert store_found_areas(scan_id=scan.pk, found=found, seen_number=0) == placed
    assert store_found_areas(scan_id=scan.pk, found=found, seen_number=1).number == 2


def test_placed_steps_are_read_where_they_were_placed(owner, admin):
    lab = make_scan_lab(owner, admin)
    lab.calibrate()
    found = lab.strip.placements.get()
    by_lab = areas_by_step(current_measurement(lab.strip))
    place_areas(actor=owner, scan_id=lab.strip.pk, outline=found.outline, darkens=found.darkens)
    run_waiting_jobs()
    placed = lab.strip.placements.first()
    assert placed.origin == Placement.Origin.PLACED
    by_hand = areas_by_step(current_measurement(lab.strip))
    for step in range(1, 22):
        assert by_hand[step]["density"]["value"] == pytest.approx(by_lab[step]["density"]["value"], abs=0.003)


def test_an_old_placement_for_something_else_is_not_read(owner, admin):
    lab = make_scan_lab(owner, admin)
    place_areas(actor=owner, scan_id=lab.strip.pk, outline=BOX, darkens="right")
    lab.strip.shows = Shows.FRAME
    lab.strip.save()
    run_waiting_jobs()
    assert lab.strip.placements.first().layout == "target"
    assert current_measurement(lab.strip) is None


def test_a_scan_of_an_unnamed_tablet_is_placed_with_the_usual_number_of_steps(scan, owner):
    import numpy as np

    bare = scan_row(owner, np.full((60, 400), 500, np.uint16), Shows.TABLET, scanner=scan.scanner, name="t")
    assert place_areas(actor=owner, scan_id=bare.pk, outline=BOX, darkens="up").layout == "steps-21"
