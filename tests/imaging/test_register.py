"""A frame laid upon the reference shows the same place, and what is left over is told."""

import json
from dataclasses import replace

import numpy as np
import pytest

from scans.imaging.homography import carried
from scans.imaging.locate_target import locate_target, located_at
from scans.imaging.measures import ImagingError
from scans.imaging.register import (
    region_box,
    registration,
    registration_of_points,
    registration_of_resolution,
)
from scans.imaging.synthetic_scene import (
    SCENE_REGIONS,
    FilmLook,
    ScanLook,
    Shot,
    draw_scene,
    scene_homography,
)
from scans.imaging.target_layout import HOUSE_TARGET
from tests.imaging.target_studies import negative_curve, print_curve

FILM = FilmLook(negative_curve(), 10)
PAPER = FilmLook(print_curve(negative_curve()), 3)


def known(shot=None, scan=None):
    """A target whose place is known without a picture."""
    return located_at(scene_homography(shot or Shot(), scan or ScanLook()), is_negative=True)


@pytest.mark.parametrize(
    ("scan", "rotation_deg", "scale", "is_mirrored"),
    [
        (ScanLook(), 0.0, 1.0, False),
        (ScanLook(ppi=2400), 0.0, 0.5, False),
        (ScanLook(angle_deg=3.0), -3.0, 1.0, False),
        (ScanLook(is_mirrored=True), 0.0, 1.0, True),
        (ScanLook(is_upside_down=True), 180.0, 1.0, False),
        (ScanLook(ppi=600, is_mirrored=True, angle_deg=4.0), 4.0, 2.0, True),
    ],
)
def test_a_known_similarity_is_found_exactly(scan, rotation_deg, scale, is_mirrored):
    reference, other = known(), known(scan=scan)
    found = registration(reference, other)
    assert (found.rotation_deg - rotation_deg + 180) % 360 - 180 == pytest.approx(0, abs=1e-6)
    assert found.scale == pytest.approx(scale)
    assert found.is_mirrored == is_mirrored
    assert found.residual_px == pytest.approx(0, abs=1e-6)
    corners = carried(found.matrix, other.outline)
    np.testing.assert_allclose(corners, reference.outline, atol=1e-6)


def test_what_a_perspective_leaves_is_told():
    """The residual is the distance that is truly left, point by point."""
    reference, other = known(), known(Shot(keystone=(0.06, 0.0)))
    found = registration(reference, other)
    x, y = np.meshgrid(np.linspace(0, 300, 31), np.linspace(0, 200, 31))
    points = np.column_stack([x.ravel(), y.ravel()])
    apart = np.hypot(
        *(carried(found.matrix @ other.homography, points) - carried(reference.homography, points)).T
    )
    assert found.residual_px > 5
    assert found.largest_px == pytest.approx(apart.max(), rel=0.01)
    # Nine points a side weigh the rim more than thirty-one do.
    assert found.residual_px == pytest.approx(np.sqrt(np.mean(apart**2)), rel=0.2)


def test_a_region_can_be_laid_better_than_the_whole():
    reference, other = known(), known(Shot(keystone=(0.06, -0.05)))
    whole, near = registration(reference, other), registration(reference, other, "highlight")
    assert near.residual_px < whole.residual_px / 3
    centre = HOUSE_TARGET.region("highlight").centre
    here = carried(reference.homography, [centre])
    there = carried(near.matrix, carried(other.homography, [centre]))
    assert np.hypot(*(here - there)[0]) < 1.5


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_drawn_frames_come_to_lie_on_the_reference(seed):
    """Found in pictures, not known: a negative and a mirrored print of another scale, both in perspective."""
    rng = np.random.default_rng(seed)
    shots = [
        Shot(angle_deg=rng.uniform(-3, 3), keystone=tuple(rng.uniform(-0.03, 0.03, 2)), mm_per_unit=0.10)
        for _ in range(2)
    ]
    scans = [ScanLook(ppi=1000), ScanLook(ppi=700, is_mirrored=True, angle_deg=1.0)]
    pictures = [
        draw_scene(film, scan, seed, shot=shot)
        for film, scan, shot in zip((FILM, PAPER), scans, shots, strict=True)
    ]
    reference, other = (locate_target(picture) for picture in pictures)
    found = registration(reference, other)
    truth = registration(*(known(shot, scan) for shot, scan in zip(shots, scans, strict=True)))
    assert found.is_mirrored
    assert found.scale == pytest.approx(truth.scale, rel=0.002)
    assert found.rotation_deg == pytest.approx(truth.rotation_deg, abs=0.1)
    assert found.residual_px == pytest.approx(truth.residual_px, abs=1.0)
    for name in SCENE_REGIONS:
        centre = HOUSE_TARGET.region(name).centre
        here = carried(scene_homography(shots[0], scans[0]), [centre])
        there = carried(found.matrix, carried(scene_homography(shots[1], scans[1]), [centre]))
        # What is left after a similarity, and a pixel for the marks' places.
        assert np.hypot(*(here - there)[0]) < truth.largest_px + 1.0


def test_a_region_has_its_box_in_the_picture():
    located = known(Shot(mm_per_unit=0.1), ScanLook(ppi=2540))
    x, y, width, height = region_box(located, "grey card")
    # 2540 pixels an inch are 100 a millimetre, so a unit has ten; the sheet's middle is the frame's.
    assert (width, height) == pytest.approx((880, 620))
    assert (x, y) == pytest.approx((1800 - 1500 + 100 - 0.5, 1200 - 1000 + 360 - 0.5))
    with pytest.raises(ImagingError, match="no region"):
        region_box(located, "sky")


def test_two_points_set_by_hand_are_enough():
    reference, other = known(), known(scan=ScanLook(ppi=900, angle_deg=2.0, is_mirrored=True))
    points = [HOUSE_TARGET.region(name).centre for name in ("shadow detail", "even tone")]
    found = registration_of_points(
        carried(reference.homography, points), carried(other.homography, points), is_mirrored=True
    )
    expected = registration(reference, other)
    np.testing.assert_allclose(found.matrix, expected.matrix, atol=1e-6)
    assert found.residual_px is None
    assert found.method == "points"


def test_resolution_and_one_point_are_enough():
    reference, other = known(), known(scan=ScanLook(ppi=900))
    point = [HOUSE_TARGET.region("edge").centre]
    found = registration_of_resolution(
        1200, 900, carried(reference.homography, point)[0], carried(other.homography, point)[0]
    )
    # A picture has whole pixels, so the scale of the drawing is 1200 / 900 exactly.
    np.testing.assert_allclose(found.matrix, registration(reference, other).matrix, atol=1e-6)
    assert found.method == "resolution"


def test_a_registration_is_plain_json():
    stored = json.loads(json.dumps(registration(known(), known(Shot(angle_deg=1.0))).to_dict()))
    assert stored["rotation_deg"] == pytest.approx(-1.0, abs=1e-6)
    assert stored["method"] == "target"


def test_what_cannot_be_laid_is_a_mistake():
    other = known()
    object.__setattr__(other, "layout", replace(HOUSE_TARGET, name="another"))
    for make, code in (
        (lambda: registration(known(), other), "OTHER_LAYOUT"),
        (lambda: registration_of_points([(1, 1), (1, 1)], [(0, 0), (9, 9)]), "BAD_POINTS"),
        (lambda: registration_of_points([(1, 1)], [(0, 0)]), "BAD_POINTS"),
        (lambda: registration_of_resolution(0, 100, (1, 1), (1, 1)), "BAD_RESOLUTION"),
        (lambda: registration_of_resolution(100, 100, (1, float("nan")), (1, 1)), "BAD_POINTS"),
    ):
        with pytest.raises(ImagingError) as refused:
            make()
        assert refused.value.code == code


def test_pictures_laid_upon_one_another_agree():
    """Pixels, not coordinates: one frame scanned twice, once turned over; their difference is noise."""
    scans = [ScanLook(ppi=500), ScanLook(ppi=500, is_mirrored=True, is_upside_down=True)]
    film = replace(FILM, rms_granularity=0.0)
    one, other = (draw_scene(film, scan, 5) for scan in scans)
    found = registration(locate_target(one), locate_target(other))
    y, x = np.mgrid[100:350:7, 100:600:7]
    points = np.column_stack([x.ravel(), y.ravel()])
    back = np.rint(carried(np.linalg.inv(found.matrix), points)).astype(int)
    here = one.samples[y.ravel(), x.ravel()].astype(float)
    there = other.samples[back[:, 1], back[:, 0]].astype(float)
    assert np.corrcoef(here, there)[0, 1] > 0.97
