"""Perspectives carry points as they should, and corners that make none are refused."""

import numpy as np
import pytest

from scans.imaging.homography import box_corners, carried, fit_homography, slope_at
from scans.imaging.measures import ImagingError

TRUE = np.array([[2.0, 0.3, 40.0], [-0.1, 1.7, 25.0], [0.0004, -0.0003, 1.0]])


def test_a_known_perspective_is_found():
    places = box_corners(0, 0, 300, 200)
    np.testing.assert_allclose(fit_homography(places, carried(TRUE, places)), TRUE, rtol=1e-9, atol=1e-12)


def test_more_points_average_their_errors():
    rng = np.random.default_rng(2)
    places = np.concatenate([box_corners(0, 0, 300, 200), rng.uniform(0, 200, (200, 2))])
    found = carried(TRUE, places) + rng.normal(0, 0.5, places.shape)
    error = carried(fit_homography(places, found), places) - carried(TRUE, places)
    # Eight parameters from 408 numbers: 0.5 sqrt(8 / 408) = 0.07 pixels in the mean square.
    assert np.sqrt(np.square(error).mean()) < 0.14


def test_the_slope_is_what_a_small_step_becomes():
    step = 1e-5
    for point in ((0.0, 0.0), (120.0, 90.0)):
        ends = carried(TRUE, np.array(point) + np.array([(0, 0), (step, 0), (0, step)]))
        expected = np.column_stack([ends[1] - ends[0], ends[2] - ends[0]]) / step
        np.testing.assert_allclose(slope_at(TRUE, point), expected, rtol=1e-4)


@pytest.mark.parametrize(
    "corners",
    [
        [(0, 0), (10, 0), (20, 0), (0, 10)],
        [(0, 0), (10, 10), (10, 0), (0, 10)],
        [(5, 5)] * 4,
        [(0, 0), (10, 0), (2, 2), (0, 10)],
        [(0, 0), (10, 0), (10, 10)],
        [(0, 0), (10, 0), (10, float("nan")), (0, 10)],
    ],
    ids=["three in line", "crossed", "one point", "dented", "three", "not a number"],
)
def test_corners_that_make_no_perspective_are_refused(corners):
    with pytest.raises(ImagingError) as refused:
        fit_homography(box_corners(0, 0, 1, 1)[: len(corners)], corners)
    assert refused.value.code == "BAD_CORNERS"
