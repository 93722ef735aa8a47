"""Lines with errors on both axes: exact lines, symmetry, coverage, and no association."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curves.sensitometry.measures import SensitometryError
from curves.sensitometry.regression import deming_line, york_line

X = np.linspace(0.1, 2.5, 12)


@settings(deadline=None, max_examples=60)  # other work may share the machine
@given(st.floats(-3, 3), st.floats(0.1, 3), st.floats(0.1, 10))
def test_an_exact_line_is_found(intercept, slope, ratio):
    for line in (
        deming_line(X, intercept + slope * X, ratio),
        york_line(X, intercept + slope * X, 0.01, 0.02),
    ):
        assert line.slope.value == pytest.approx(slope, rel=1e-6)
        assert line.intercept.value == pytest.approx(intercept, abs=1e-6)


def test_exchanging_the_axes_inverts_the_line():
    """Unlike least squares, for which the two slopes multiply to less than one."""
    rng = np.random.default_rng(91)
    y = 0.05 + 1.1 * X + 0.1 * rng.standard_normal(X.size)
    there, back = deming_line(X, y, 2.0), deming_line(y, X, 0.5)
    assert there.slope.value * back.slope.value == pytest.approx(1.0)
    there, back = york_line(X, y, 0.05, 0.1), york_line(y, X, 0.1, 0.05)
    assert there.slope.value * back.slope.value == pytest.approx(1.0)


def test_york_with_equal_errors_is_deming():
    rng = np.random.default_rng(92)
    y = 0.05 + 1.1 * X + 0.1 * rng.standard_normal(X.size)
    assert york_line(X, y, 0.05, 0.1).slope.value == pytest.approx(deming_line(X, y, 4.0).slope.value)


def test_intervals_hold_the_truth_where_least_squares_is_too_flat():
    """400 sets of 12 pairs with wide errors on x: three standard errors of 95 % are 3.3 %."""
    rng = np.random.default_rng(93)
    held, slopes, flat = {"deming": [], "york": []}, [], []
    for _ in range(400):
        x = X + 0.25 * rng.standard_normal(X.size)
        y = 0.02 + 1.0 * X + 0.1 * rng.standard_normal(X.size)
        deming, york = deming_line(x, y, 0.16), york_line(x, y, 0.25, 0.1)
        held["deming"].append(deming.slope.low <= 1.0 <= deming.slope.high)
        held["york"].append(york.slope.low <= 1.0 <= york.slope.high)
        slopes.append(deming.slope.value)
        flat.append(np.polyfit(x, y, 1)[0])
    assert 0.917 <= np.mean(held["deming"]) <= 0.983
    assert 0.90 <= np.mean(held["york"]) <= 0.983
    assert np.median(slopes) == pytest.approx(1.0, abs=0.02)
    assert np.median(flat) < 0.95


@pytest.mark.parametrize("line", [deming_line, lambda x, y: york_line(x, y, 0.1, 0.1)])
def test_withheld(line):
    assert line([1, 2], [1, 2]).slope.reason == "TOO_FEW_PAIRS"
    assert line([1, 2, np.nan], [1, 2, 3]).slope.reason == "TOO_FEW_PAIRS"
    assert line([], []).slope.reason == "TOO_FEW_PAIRS"
    assert line([1, 1, 1, 1], [1, 2, 3, 4]).slope.reason == "NO_ASSOCIATION"
    assert line([1, 2, 3, 4], [2, 2, 2, 2]).slope.reason == "NO_ASSOCIATION"
    assert line([1e300, 2, 3], [1, 2, 3]).slope.reason == "TOO_FEW_PAIRS"
    with pytest.raises(SensitometryError):
        line([1, 2, 3], [1, 2])


def test_a_line_that_stands_on_one_pair_is_withheld():
    assert deming_line([1, 1, 1, 5], [2, 2, 2, 7]).slope.reason == "NO_ASSOCIATION"


def test_pairs_without_an_error_do_not_count():
    assert york_line([1, 2, 3], [1, 2, 3], [0.1, 0, 0.1], 0.1).slope.reason == "TOO_FEW_PAIRS"
    with pytest.raises(SensitometryError):
        york_line([1, 2, 3], [1, 2, 3], [0.1, 0.1], 0.1)


@pytest.mark.parametrize("ratio", [0, -1, float("nan"), float("inf")])
def test_impossible_ratio_is_refused(ratio):
    with pytest.raises(SensitometryError):
        deming_line(X, X, ratio)
