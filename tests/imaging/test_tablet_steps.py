"""Step 1 of a tablet is its thinnest: lightest on the tablet, densest on a negative exposed through it."""

import numpy as np
import pytest

from scans.imaging.density import read_areas
from scans.imaging.hand_placed import place_steps
from scans.imaging.locate import locate_tablet
from scans.imaging.measures import ImagingError
from scans.imaging.synthetic_tablets import FIRST, Scene, draw_scan
from scans.imaging.tablet_steps import tablet_steps

TABLET = FIRST + 0.15 * np.arange(21)


def film_densities():
    """Of a negative, step by step of the tablet: log exposure falls as the tablet's density rises."""
    log_exposure = 1.5 - TABLET
    return 0.2 + 0.6 * 0.3 * np.log1p(np.exp((log_exposure + 1.2) / 0.3))


@pytest.mark.parametrize("is_reversed", [False, True])
def test_on_the_tablet_step_1_is_the_lightest(is_reversed):
    picture = draw_scan(Scene(densities=tuple(TABLET), is_reversed=is_reversed))
    steps = tablet_steps(locate_tablet(picture, 21), is_negative=False, count=21)
    levels = [reading.level for reading in read_areas(picture, steps.values())]
    assert list(steps) == list(range(1, 22))
    assert np.all(np.diff(levels) < 0)
    assert [area.label for area in steps.values()] == [f"step {step}" for step in range(1, 22)]


@pytest.mark.parametrize("is_reversed", [False, True])
def test_on_a_negative_step_1_is_the_densest(is_reversed):
    """The scene's densities are drawn lightest first: the film's, from step 21 to step 1."""
    densities = film_densities()
    scene = Scene(
        densities=tuple(densities[::-1]),
        is_reversed=is_reversed,
        margins=(1.0, 1.0),
        margin_density=0.2,
        surround="dark",
    )
    picture = draw_scan(scene)
    found = locate_tablet(picture, 21, is_distinct=False)
    steps = tablet_steps(found, is_negative=True, count=21)
    # Scene.step_centres go from the lightest to the densest; the tablet's numbers go the other way.
    centres = np.array([steps[step].centre for step in range(1, 22)])
    np.testing.assert_allclose(centres[:, 0], scene.step_centres[::-1, 0], atol=0.2 * scene.pitch_px)
    levels = np.array([reading.level for reading in read_areas(picture, steps.values())])
    # The drawing's own terms: 300 levels of dark, 57000 of clear light, of which 0.001 is flare. The mean of
    # transmittance over grain of 0.01 D reads within 0.005 D.
    light = (levels[:14] - 300) / 57000 * 1.001 - 0.001
    np.testing.assert_allclose(-np.log10(light), densities[:14], atol=0.005)


def test_areas_placed_by_hand_are_numbered_too():
    placed = place_steps([(0, 0), (210, 0), (210, 20), (0, 20)], 21, "right")
    steps = tablet_steps(placed, is_negative=True, count=21)
    assert steps[1].centre == placed[-1].centre
    assert steps[21].centre == placed[0].centre
    assert steps[1].label == "step 1"


def test_another_number_of_steps_is_a_mistake():
    placed = place_steps([(0, 0), (210, 0), (210, 20), (0, 20)], 11, "right")
    with pytest.raises(ImagingError, match="has 21 steps, but 11"):
        tablet_steps(placed, is_negative=False, count=21)
