"""Step tablets are found where they lie, and what is not the tablet that was told is refused."""

from dataclasses import replace

import numpy as np
import pytest

from scans.imaging.locate import LocatedTablet, locate_tablet
from scans.imaging.measures import ImagingError, Refusal
from scans.imaging.picture import Picture
from scans.imaging.synthetic_tablets import FIRST, KINDS, Scene, draw_scan
from tests.imaging.tablet_studies import SPOILT, find, refusals

ORDINARY, FULL = 18, 1000


def plain(steps=21, **changes):
    """A tablet that lies straight in clear light."""
    densities = tuple(FIRST + KINDS.get(steps, 0.15) * np.arange(steps))
    return replace(Scene(densities=densities, pitch_px=1100 / steps), **changes)


def test_truth_of_a_plain_scene_to_a_twentieth_of_a_step():
    scene = plain()
    found = locate_tablet(draw_scan(scene), 21)
    centres = np.array([area.centre for area in found.areas])
    # 1.5 pixels: three quarters of a pixel of the view, which is half as fine as the scan.
    np.testing.assert_allclose(centres[:, 0], scene.step_centres[:, 0], atol=1.5)
    np.testing.assert_allclose(centres[:, 1], scene.step_centres[:, 1], atol=8)
    assert found.darkens == "right"
    assert [area.label for area in found.areas][:2] == ["step 1", "step 2"]


@pytest.mark.parametrize(
    ("changes", "darkens"),
    [
        ({"is_reversed": True}, "left"),
        ({"is_upright": True}, "down"),
        ({"is_upright": True, "is_reversed": True}, "up"),
        ({"is_upside_down": True, "labels": "inside", "angle_deg": -5.0}, "right"),
    ],
)
def test_every_way_to_lie(changes, darkens):
    scene = plain(**changes)
    found = locate_tablet(draw_scan(scene), 21)
    assert found.darkens == darkens
    error = np.abs(np.array([area.centre for area in found.areas]) - scene.step_centres).max(axis=0)
    along, across = error[::-1] if scene.is_upright else error
    assert along < 0.1 * scene.pitch_px
    assert across < 0.1 * scene.height_px


@pytest.mark.parametrize("steps", KINDS)
def test_the_number_of_steps_need_not_be_told(steps):
    found = locate_tablet(draw_scan(plain(steps, seed=steps)))
    assert len(found.areas) == steps


def test_fresh_scenes():
    """A sample of the full study; its scenes differ in everything that is promised."""
    outcomes = [find(index, 20260501) for index in range(ORDINARY)]
    assert [each.outcome for each in outcomes].count("right") >= ORDINARY - 1
    assert "wrong" not in [each.outcome for each in outcomes]


@pytest.mark.full
def test_a_thousand_fresh_scenes():
    """At least 99.5 % with every step assigned rightly, and none wrongly without a refusal."""
    outcomes = [find(index, 20260502) for index in range(FULL)]
    right = [each for each in outcomes if each.outcome == "right"]
    assert len(right) >= 0.995 * FULL
    assert sum(each.outcome == "wrong" for each in outcomes) <= 0.001 * FULL
    assert np.percentile([each.along for each in right], 95) < 0.05


def test_what_is_not_the_tablet_told_is_refused():
    for kind, outcomes in refusals(2 * len(SPOILT), 20260503).items():
        assert outcomes["accepted"] == 0, kind


@pytest.mark.full
def test_six_hundred_spoilt_scenes_are_refused():
    """At least 95 % of each kind of fault."""
    for kind, outcomes in refusals(100 * len(SPOILT), 20260504).items():
        assert outcomes["accepted"] <= 5, kind


def test_a_film_whose_thin_steps_look_alike_is_placed_by_the_others():
    """Soft toe: the first steps differ by less than 0.002 D; base 0.25."""
    exposure = np.arange(21) * 0.15 - 1.2
    densities = tuple(0.25 + 0.7 * 0.2 * np.log1p(np.exp(exposure / 0.2)))
    scene = plain(densities=densities, margins=(1.5, 1.5), margin_density=0.25, seed=5)
    picture = draw_scan(scene)
    assert isinstance(locate_tablet(picture, 21), Refusal)
    found = locate_tablet(picture, 21, is_distinct=False)
    assert [flag.code for flag in found.flags] == ["WEAK_STEPS"]
    centres = np.array([area.centre for area in found.areas])
    assert np.abs(centres - scene.step_centres)[:, 0].max() < 0.25 * scene.pitch_px


def noise(seed):
    return np.random.default_rng(seed).integers(20000, 40000, (400, 600)).astype(np.uint16)


@pytest.mark.parametrize(
    "samples",
    [
        np.zeros((300, 400), np.uint16),
        np.full((300, 400), 65535, np.uint16),
        np.full((3, 4000), 900, np.uint16),
        np.full((1, 1), 900, np.uint16),
        noise(1),
        np.tile(np.linspace(60000, 500, 800).astype(np.uint16), (300, 1)),
        np.kron(np.indices((12, 20)).sum(axis=0) % 2, np.ones((30, 30))).astype(np.uint16) * 40000 + 5000,
    ],
    ids=["black", "white", "sliver", "dot", "noise", "ramp", "chessboard"],
)
@pytest.mark.parametrize("steps", [21, None])
def test_pictures_without_a_tablet_are_refused_with_a_sentence(samples, steps):
    refusal = locate_tablet(Picture(samples), steps)
    assert isinstance(refusal, Refusal)
    assert refusal.text.endswith(".")


def test_brightness_does_not_matter():
    picture = draw_scan(plain())
    halved = Picture((picture.samples // 2).astype(np.uint16))
    one, other = locate_tablet(picture, 21), locate_tablet(halved, 21)
    assert isinstance(other, LocatedTablet)
    centres = [np.array([area.centre for area in each.areas]) for each in (one, other)]
    np.testing.assert_allclose(centres[0], centres[1], atol=1.0)


def test_a_number_of_steps_that_no_tablet_has_is_a_mistake():
    with pytest.raises(ImagingError, match="between 6 and 41"):
        locate_tablet(draw_scan(plain()), 3)


def test_a_tablet_whose_steps_are_uneven_is_found_by_its_calibrated_densities():
    """No real tablet is even to a hundredth; its calibration says how it is."""
    rng = np.random.default_rng(20261128)
    told, alone = 0, 0
    for seed in range(6):
        densities = np.sort(FIRST + 0.15 * np.arange(21) + rng.normal(0, 0.02, 21))
        scene = plain(densities=tuple(densities), seed=seed, angle_deg=rng.uniform(-4, 4))
        picture = draw_scan(scene)
        found = locate_tablet(picture, 21, densities=densities + rng.normal(0, 0.003, 21))
        told += isinstance(found, LocatedTablet)
        if isinstance(found, LocatedTablet):
            centres = np.array([area.centre for area in found.areas])
            assert np.abs(centres - scene.step_centres).max() < 0.3 * scene.pitch_px
        alone += isinstance(locate_tablet(picture, 21), LocatedTablet)
    assert told == 6
    assert alone < told
    assert isinstance(locate_tablet(draw_scan(plain(31)), 21, densities=densities), Refusal)
