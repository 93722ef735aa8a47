"""Areas placed by hand are the areas that would have been found there."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from scans.imaging.density import read_areas
from scans.imaging.hand_placed import place_areas, place_steps
from scans.imaging.locate import locate_tablet
from scans.imaging.measures import ImagingError
from scans.imaging.synthetic_tablets import FIRST, KINDS, Scene, draw_scan
from scans.imaging.target_layout import HOUSE_TARGET, PatchPlace, TargetLayout


def plain(**changes):
    densities = tuple(FIRST + KINDS[21] * np.arange(21))
    return replace(Scene(densities=densities, pitch_px=1100 / 21), **changes)


LYING = [
    {},
    {"is_reversed": True},
    {"is_upright": True},
    {"is_upright": True, "is_reversed": True},
    {"angle_deg": 4.0},
    {"angle_deg": -3.0, "is_reversed": True},
]


@cache
def found_lying(place):
    """The tablet that lies so, found; it is the same whatever corner is begun at."""
    return locate_tablet(draw_scan(plain(**LYING[place])), 21)


@pytest.mark.parametrize("place", range(len(LYING)), ids=str)
@pytest.mark.parametrize("start", [0, 1, 2, 3])
@pytest.mark.parametrize("way", [1, -1])
def test_steps_placed_on_a_found_outline_are_the_steps_found(place, start, way):
    found = found_lying(place)
    corners = np.roll(found.outline, start, axis=0)[::way]
    placed = place_steps(corners, 21, found.darkens)
    assert [area.label for area in placed] == [area.label for area in found.areas]
    pitch = 1100 / 21
    for mine, theirs in zip(placed, found.areas, strict=True):
        # The found edges follow a curve through all edges; even spacing departs by less than a tenth.
        assert np.abs(mine.corners - theirs.corners).max() < 0.1 * pitch


def test_placed_steps_read_as_the_found_ones_do():
    picture = draw_scan(plain(angle_deg=2.0))
    found = locate_tablet(picture, 21)
    placed = place_steps(found.outline, 21, found.darkens)
    for mine, theirs in zip(read_areas(picture, placed), read_areas(picture, found.areas), strict=True):
        assert mine.level == pytest.approx(theirs.level, rel=0.002, abs=8)


def test_steps_follow_perspective():
    """A far end half as high: the middle of the tablet lies at two thirds of the way from the near end.

    The cross-ratio: depth goes 1 to 2, so half of the tablet is seen at (1/2) 2 / (1/2 + 1) = 2/3 … from the
    near corner, where depth is 1.
    """
    corners = [(0, 0), (300, 50), (300, 150), (0, 200)]
    middle = place_steps(corners, 3, "right")[1]
    assert middle.centre[0] == pytest.approx(200, abs=4)
    np.testing.assert_allclose(middle.corners[:, 1].mean(), 100, atol=1e-6)


def test_patches_lie_where_the_layout_says():
    areas = place_areas(HOUSE_TARGET, 4 * HOUSE_TARGET.corners + (10, 20))
    for patch, area in zip(HOUSE_TARGET.patches, areas, strict=True):
        assert area.label == patch.label
        np.testing.assert_allclose(area.centre, 4 * np.array(patch.centre) + (10, 20))
        width, height = np.ptp(area.corners, axis=0)
        assert (width, height) == pytest.approx((0.6 * 4 * patch.w, 0.6 * 4 * patch.h))


def test_what_cannot_be_placed_is_a_mistake():
    square = [(0, 0), (1, 0), (1, 1), (0, 1)]
    for arguments, code in (
        ((square, 21, "sideways"), "BAD_WAY"),
        ((square, 1, "right"), "BAD_STEP_COUNT"),
        ((square[:3], 21, "right"), "BAD_CORNERS"),
    ):
        with pytest.raises(ImagingError) as refused:
            place_steps(*arguments)
        assert refused.value.code == code


def test_the_house_target_has_no_overlaps_and_lies_within_its_sheet():
    marks = [PatchPlace(f"mark {n}", m.x, m.y, m.side, m.side) for n, m in enumerate(HOUSE_TARGET.fiducials)]
    places = [*HOUSE_TARGET.patches, *marks]
    places += [region for region in HOUSE_TARGET.regions if region not in HOUSE_TARGET.patches]
    for index, one in enumerate(places):
        assert 0 <= one.x < one.x + one.w <= HOUSE_TARGET.width
        assert 0 <= one.y < one.y + one.h <= HOUSE_TARGET.height
        for other in places[index + 1 :]:
            apart_x = one.x + one.w <= other.x or other.x + other.w <= one.x
            apart_y = one.y + one.h <= other.y or other.y + other.h <= one.y
            assert apart_x or apart_y, (one.label, other.label)


def test_a_layout_needs_four_different_marks_and_patches_of_their_own_names():
    marks, patches = HOUSE_TARGET.fiducials, HOUSE_TARGET.patches
    lopsided = replace(marks[0], pattern=("#####", "#..##", "#####", "#####", "#####"))
    for fiducials, chosen in (
        (marks[:3], patches),
        ((marks[0], *marks[:3]), patches),
        ((lopsided, *marks[1:]), patches),
        (marks, ()),
        (marks, (patches[0], patches[0])),
    ):
        with pytest.raises(ImagingError) as refused:
            TargetLayout("odd", 300, 200, chosen, fiducials)
        assert refused.value.code == "BAD_LAYOUT"
    with pytest.raises(ImagingError, match="no region"):
        HOUSE_TARGET.region("sky")
