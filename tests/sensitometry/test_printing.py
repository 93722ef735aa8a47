"""Print times: errors, reasons, and that they compose as exposures do."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import isotonic_regression

from curves.sensitometry.measures import Measure, SensitometryError, withheld
from curves.sensitometry.printing.print_exposure import (
    f_stop_times_s,
    print_time_for_base,
    print_time_for_density_change,
    print_time_for_tone,
    strip_exposures_s,
)
from curves.sensitometry.sampled_curve import SampledCurve

X = np.linspace(0.0, 2.4, 25)
PAPER = SampledCurve.through(X, 0.06 + 2.0 / (1 + np.exp(-4 * (X - 1.2))), 0.01)


def base(value, sd=0.01):
    return Measure("base_plus_fog", value, value - 1.959964 * sd, value + 1.959964 * sd, "D")


@settings(deadline=None, max_examples=60)  # other work may share the machine
@given(st.floats(1, 100), st.floats(-0.5, 0.5), st.floats(-0.5, 0.5), st.floats(1, 1.5))
def test_two_changes_in_turn_are_their_sum(time, first, second, callier):
    step = print_time_for_density_change(time, first, callier_factor=callier).value
    both = print_time_for_density_change(step, second, callier_factor=callier).value
    at_once = print_time_for_density_change(time, first + second, callier_factor=callier).value
    assert both == pytest.approx(at_once)


def test_error_of_a_compensated_time():
    """log t has the error Q sd(change) beside change * sd(Q)."""
    measure = print_time_for_density_change(10, 0.2, 0.01, callier_factor=1.3, callier_sd=0.1)
    log_sd = math.hypot(1.3 * 0.01, 0.2 * 0.1)
    assert math.log10(measure.high / measure.value) == pytest.approx(1.959964 * log_sd, rel=1e-6)


def test_base_is_compensated_with_the_errors_of_both():
    measure = print_time_for_base(10, base(0.40), base(0.25))
    assert measure.value == pytest.approx(10 * 10**0.15)
    assert math.log10(measure.high / measure.value) == pytest.approx(
        1.959964 * math.hypot(0.01, 0.01), rel=1e-6
    )


def test_a_missing_base_hands_on_its_reason():
    missing = withheld("base_plus_fog", "NO_BASE_FOG", "D")
    assert print_time_for_base(10, missing, base(0.25)).reason == "NO_BASE_FOG"
    assert print_time_for_base(10, base(0.25), missing).reason == "NO_BASE_FOG"
    bare = Measure("base_plus_fog", 0.3, unit="D")
    assert print_time_for_base(10, bare, base(0.25)).low is None


@pytest.mark.parametrize(
    "arguments", [(0, 0.1), (-5, 0.1), (float("nan"), 0.1), (10, float("inf")), (10, 50), (1e300, 0.1)]
)
def test_impossible_times_and_densities(arguments):
    assert print_time_for_density_change(*arguments).reason == "INVALID_INPUT"


@pytest.mark.parametrize("callier", [0.0, 0.5, 5.0, float("nan")])
def test_impossible_callier_factors(callier):
    assert print_time_for_density_change(10, 0.1, callier_factor=callier).reason == "INVALID_INPUT"


def test_time_for_a_tone_puts_it_on_the_paper():
    time = print_time_for_tone(PAPER, 0.75, 0.9, 0.3, callier_factor=1.2).value
    on_paper = 0.3 + math.log10(time) - 1.2 * 0.9
    assert float(PAPER.density_at(on_paper)) == pytest.approx(0.75, abs=1e-6)


def test_interval_of_the_time_for_a_tone_holds_the_truth():
    """400 noisy papers and readings: three standard errors of 95 % are 3.3 %."""
    rng = np.random.default_rng(41)
    truth = 10 ** (float(PAPER.exposure_at(0.75)) + 1.2 * 0.9 - 0.3)
    hits = []
    for _ in range(400):
        noise = 0.01 * rng.standard_normal(X.size)
        paper = SampledCurve.through(X, isotonic_regression(PAPER.density + noise).x, 0.01)
        negative = 0.9 + 0.01 * rng.standard_normal()
        light = 0.3 + 0.02 * rng.standard_normal()
        time = print_time_for_tone(
            paper, 0.75, negative, light, callier_factor=1.2, negative_sd=0.01, illuminance_log_sd=0.02
        )
        hits.append(time.low <= truth <= time.high)
    assert 0.917 <= np.mean(hits) <= 0.983


def test_tones_that_the_paper_cannot_give():
    assert print_time_for_tone(PAPER, 0.01, 0.9, 0.3).reason == "OUT_OF_PAPER_RANGE"
    assert print_time_for_tone(PAPER, 2.5, 0.9, 0.3).reason == "OUT_OF_PAPER_RANGE"
    flat = SampledCurve.through([0, 1, 2, 3], [0.05, 0.055, 0.06, 1.5])
    assert print_time_for_tone(flat, 0.0549, 0.9, 0.3).reason == "ILL_DEFINED"
    assert print_time_for_tone(PAPER, 0.75, float("nan"), 0.3).reason == "INVALID_INPUT"
    assert print_time_for_tone(PAPER, 0.75, 0.9, -30).reason == "INVALID_INPUT"


@settings(deadline=None, max_examples=60)  # other work may share the machine
@given(st.floats(1, 100), st.floats(0.05, 1), st.integers(0, 8), st.integers(0, 8))
def test_f_stop_times_rise_by_equal_stops_and_strips_add_up_to_them(base_time, step, below, above):
    times = f_stop_times_s(base_time, step, below, above)
    assert times[below] == pytest.approx(base_time)
    assert np.diff(np.log2(times)) == pytest.approx(np.full(below + above, step))
    assert np.cumsum(strip_exposures_s(times)) == pytest.approx(times)


@pytest.mark.parametrize("bad", [(0, 0.5, 1, 1), (10, 0, 1, 1), (10, 0.5, -1, 1), (10, 0.5, 1, 99)])
def test_impossible_steps_are_refused(bad):
    with pytest.raises(SensitometryError):
        f_stop_times_s(*bad)


@pytest.mark.parametrize("bad", [[0, 1], [3, 2], [float("nan"), 1], [[1, 2]]])
def test_times_that_do_not_rise_are_refused(bad):
    with pytest.raises(SensitometryError):
        strip_exposures_s(bad)
