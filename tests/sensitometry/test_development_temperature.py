"""Temperature equivalents: within the tested range, reversible, and recovered from tests."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curves.sensitometry.developing.development_temperature import (
    coefficient_from_activation_energy,
    fit_temperature_coefficient,
    time_at_temperature,
)
from curves.sensitometry.measures import SensitometryError


@settings(deadline=None, max_examples=60)  # other work may share the machine
@given(st.floats(1, 60), st.floats(18, 24), st.floats(1.5, 4))
def test_there_and_back_again(time, temperature, coefficient):
    there = time_at_temperature(time, temperature, coefficient)
    back = time_at_temperature(there.value, 20.0, coefficient, known_at_c=temperature)
    assert back.value == pytest.approx(time)


@pytest.mark.parametrize("temperature", [17.9, 24.1, 38, -5])
def test_untested_temperatures_are_refused(temperature):
    assert time_at_temperature(8, temperature, 2.5).reason == "OUTSIDE_TESTED_RANGE"
    assert time_at_temperature(8, 20, 2.5, known_at_c=temperature).reason == "OUTSIDE_TESTED_RANGE"


def test_a_wider_tested_range_is_used():
    assert time_at_temperature(8, 26, 2.5, tested_c=(28, 16)).value == pytest.approx(8 * 2.5**-0.6)


def test_the_error_grows_with_the_distance_and_vanishes_at_home():
    near, far = (time_at_temperature(8, t, 2.5, coefficient_sd=0.2) for t in (21, 24))
    home = time_at_temperature(8, 20, 2.5, coefficient_sd=0.2)
    assert home.low == home.value == home.high
    assert np.log(far.high / far.low) == pytest.approx(4 * np.log(near.high / near.low))


@pytest.mark.parametrize(
    "given_values", [(float("nan"), 20, 2.5), (0, 20, 2.5), (-3, 20, 2.5), (8, float("inf"), 2.5), (8, 20, 0)]
)
def test_impossible_numbers_have_a_reason(given_values):
    assert time_at_temperature(*given_values).reason == "INVALID_INPUT"


def test_coefficient_is_recovered_and_its_interval_holds_it():
    """400 sets of four tests with 2 % error: three standard errors of 95 % are 3.3 %."""
    temperatures = np.array([18.0, 20.0, 22.0, 24.0])
    exact = 10.0 * 2.5 ** ((20 - temperatures) / 10)
    assert fit_temperature_coefficient(temperatures, exact, 0.01).value == pytest.approx(2.5)
    rng = np.random.default_rng(31)
    for log_sd in (None, 0.01):
        found = [
            fit_temperature_coefficient(temperatures, exact * 10 ** (0.01 * rng.standard_normal(4)), log_sd)
            for _ in range(400)
        ]
        assert 0.917 <= np.mean([m.low <= 2.5 <= m.high for m in found]) <= 0.983


def test_two_temperatures_without_a_known_error_have_no_interval():
    measure = fit_temperature_coefficient([20, 24], [10, 6.93])
    assert measure.value == pytest.approx(2.5, abs=0.005)
    assert measure.low is None


@pytest.mark.parametrize(
    ("temperatures", "times", "reason"),
    [([20], [10], "TOO_FEW_POINTS"), ([20, 20], [10, 9], "TOO_FEW_POINTS"), ([], [], "TOO_FEW_POINTS"),
     ([20, 24], [10, -1], "TOO_FEW_POINTS"), ([20, 20.6], [10, 1], "ILL_DEFINED")],
)  # fmt: skip
def test_coefficient_withheld(temperatures, times, reason):
    assert fit_temperature_coefficient(temperatures, times).reason == reason


def test_mistakes_are_refused():
    with pytest.raises(SensitometryError):
        fit_temperature_coefficient([20, 24], [10])
    with pytest.raises(SensitometryError):
        coefficient_from_activation_energy(67.7, 20, 20)
