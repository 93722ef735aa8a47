"""Measures from a standard error: plain, logarithmic, and rounding beside a normal error."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm

from curves.sensitometry.intervals import (
    is_usable,
    measure_with_error,
    measure_with_log_error,
    mixed_half_width,
)


def test_plain_interval_is_the_normal_one():
    measure = measure_with_error("contrast", 0.60, 0.01)
    assert (measure.low, measure.high) == pytest.approx((0.60 - 0.0195996, 0.60 + 0.0195996), abs=1e-7)
    assert measure.standard_error == pytest.approx(0.01, rel=1e-6)


def test_logarithmic_interval_has_equal_ratios():
    measure = measure_with_log_error("time", 8.0, 0.05, "min")
    assert measure.high / measure.value == pytest.approx(measure.value / measure.low)
    assert np.log10(measure.high / measure.value) == pytest.approx(1.959964 * 0.05, rel=1e-6)


def test_an_unknown_error_is_said_in_the_note():
    for made in (measure_with_error, measure_with_log_error):
        measure = made("time", 8.0, None, "min", "from two readings")
        assert (measure.low, measure.high) == (None, None)
        assert "from two readings; no interval" in measure.note


@pytest.mark.parametrize(("half_range", "sd"), [(1.0, 0.0), (1.0, 0.2), (1.0, 1.0), (0.1, 1.0), (0.0, 1.0)])
def test_mixed_half_width_holds_95_per_cent(half_range, sd):
    """By counting draws: 200,000 leave a standard error of 0.05 %, four of them the tolerance."""
    rng = np.random.default_rng(3)
    draws = rng.uniform(-half_range, half_range, 200_000) + sd * rng.standard_normal(200_000)
    assert np.mean(np.abs(draws) <= mixed_half_width(half_range, sd)) == pytest.approx(0.95, abs=0.002)


def test_mixed_half_width_ends_in_the_pure_cases():
    assert mixed_half_width(1.0, 1e-9) == pytest.approx(0.95, abs=1e-6)
    assert mixed_half_width(1e-9, 1.0) == pytest.approx(norm.ppf(0.975), abs=1e-6)


@settings(deadline=None, max_examples=60)  # other work may share the machine
@given(st.floats(0.01, 10), st.floats(0.01, 10), st.floats(0.01, 100))
def test_mixed_half_width_scales(half_range, sd, scale):
    assert mixed_half_width(scale * half_range, scale * sd) == pytest.approx(
        scale * mixed_half_width(half_range, sd), rel=1e-6
    )


@pytest.mark.parametrize("number", [None, float("nan"), float("inf"), 1e13])
def test_missing_endless_and_absurd_numbers_are_not_usable(number):
    assert is_usable(1.0, -2.0)
    assert not is_usable(1.0, number)
