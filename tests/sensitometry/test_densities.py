"""Density, averages and the Callier factor: errors and odd input."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curves.sensitometry.densities import callier_factor, density_from_transmittance, mean_density


def test_error_of_a_density():
    """Derivative of -log10 T: sd / (T ln 10)."""
    measure = density_from_transmittance(0.10, 0.002)
    assert measure.standard_error == pytest.approx(0.002 / (0.10 * math.log(10)))


def test_more_light_than_was_sent_is_a_small_negative_density():
    assert density_from_transmittance(1.02).value == pytest.approx(-0.0086, abs=0.00005)


@pytest.mark.parametrize("transmittance", [0.0, -0.1, 1e-12])
def test_no_light_is_saturated_never_endless(transmittance):
    assert density_from_transmittance(transmittance).reason == "SATURATED"


@settings(deadline=None, max_examples=60)  # other work may share the machine
@given(st.lists(st.floats(0.0, 4.0), min_size=2, max_size=30))
def test_the_mean_lies_below_the_mean_of_densities_and_above_the_lightest(densities):
    measure = mean_density(densities)
    assert min(densities) - 1e-9 <= measure.value <= np.mean(densities) + 1e-9


@settings(deadline=None, max_examples=60)  # other work may share the machine
@given(st.lists(st.floats(0.0, 4.0), min_size=2, max_size=10), st.floats(-2, 2))
def test_adding_a_density_everywhere_adds_it_to_the_mean(densities, added):
    moved = mean_density(np.array(densities) + added)
    assert moved.value == pytest.approx(mean_density(densities).value + added, abs=1e-9)
    assert moved.standard_error == pytest.approx(mean_density(densities).standard_error, abs=1e-9)


def test_interval_of_a_mean_holds_the_truth():
    """500 samples of 20: the share has a standard error of 1 %, so 92 to 98 % are three of them."""
    rng = np.random.default_rng(7)
    truth = -math.log10(np.mean(10 ** -(1 + 0.05 * np.random.default_rng(1).standard_normal(10**6))))
    found = [mean_density(1 + 0.05 * rng.standard_normal(20)) for _ in range(500)]
    assert 0.92 <= np.mean([m.low <= truth <= m.high for m in found]) <= 0.98


@pytest.mark.parametrize("densities", [[], [float("nan")], [float("inf")], [1e300]])
def test_nothing_to_average(densities):
    assert mean_density(densities).reason == "INVALID_INPUT"


def test_one_reading_has_no_interval():
    assert mean_density([1.0]).low is None


def test_callier_factor_error_and_refusal():
    measure = callier_factor(1.30, 1.00, 0.01)
    assert measure.standard_error == pytest.approx(0.01 * math.hypot(1, 1.3))
    assert callier_factor(0.02, 0.01, 0.01).reason == "ILL_DEFINED"
    assert callier_factor(float("nan"), 1.0).reason == "INVALID_INPUT"
