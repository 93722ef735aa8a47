"""Bad data give a reason code or a flag: never an exception, a warning, NaN, or a number out of nowhere."""

import json

import numpy as np
import pytest

from curves.sensitometry import (
    Readings,
    analyse_many,
    analyse_readings,
    compare_with_reference,
    pool_analyses,
)

X = np.linspace(-3.5, -0.5, 21)
GOOD = 0.2 + 0.14 * np.logaddexp(0.0, (X + 2.6) / 0.2)
RNG = np.random.default_rng(7)
NAN, INF = float("nan"), float("inf")


def spoilt(**places):
    density = GOOD.copy()
    for place, value in places.items():
        density[int(place[1:])] = value
    return density


# Name: exposures, densities, unexposed readings, code expected among the flags or as every measure's reason.
CASES = {
    "empty": ([], [], [], "TOO_FEW_POINTS"),
    "one step": ([0.0], [0.5], [0.2], "TOO_FEW_POINTS"),
    "two points": ([0.0, 1.0], [0.2, 0.9], [0.2], "TOO_FEW_POINTS"),
    "four steps": (X[::6], GOOD[::6], [0.2], "TOO_FEW_POINTS"),
    "one exposure read many times": ([0.5] * 9, GOOD[:9], [0.2], "TOO_FEW_POINTS"),
    "all equal": (X, np.full(21, 0.7), [0.2], "NOT_REACHED"),
    "never above the base": (X, 0.2 + 0.005 * RNG.standard_normal(21), [0.2], "NOT_REACHED"),
    "reversed": (X[::-1], GOOD, [0.2], "NON_MONOTONE"),
    "all NaN": (X, np.full(21, NAN), [NAN], "TOO_FEW_POINTS"),
    "some NaN": (X, spoilt(_3=NAN, _9=INF), [0.2, NAN], "DROPPED_READINGS"),
    "NaN exposure": (np.where(np.arange(21) == 4, NAN, X), GOOD, [0.2], "DROPPED_READINGS"),
    "huge density": (X, spoilt(_5=1e300), [0.2], "DROPPED_READINGS"),
    "huge exposure": (np.where(np.arange(21) == 20, 1e300, X), GOOD, [0.2], "DROPPED_READINGS"),
    "everything huge": (X * 1e200, GOOD * 1e200, [1e200], "TOO_FEW_POINTS"),
    "density forgot its point": (X, np.round(GOOD * 100), [20.0], "TOO_FEW_POINTS"),
    "no unexposed area": (X, GOOD, [], "NO_BASE_FOG"),
    "clipped": (X, np.minimum(GOOD, 0.9), [0.2], "CLIPPED"),
    "pure noise": (X, RNG.uniform(0, 3, 21), [0.2], "NOISY"),
    "unexposed area fogged": (X, GOOD, [0.6], "BASE_ABOVE_LOW_STEPS"),
    "zig-zag": (X, GOOD + 0.15 * (-1.0) ** np.arange(21), [0.2], "FALLING_STEP"),
    "solarised": (X, np.where(X > -1.3, 2 * GOOD[X <= -1.3][-1] - GOOD, GOOD), [0.2], "SOLARISED"),
    "one reading far off": (X, spoilt(_10=1.6), [0.2], "OUTLIER"),
    "a short stretch": (np.linspace(-2.0, -1.8, 6), np.linspace(0.5, 0.7, 6), [0.2], "MISSING_TOE"),
    "toe missing": (X[9:], GOOD[9:], [0.2], "MISSING_TOE"),
}


def codes_of(analysis):
    reasons = {measure.reason for name, measure in analysis.measures.items() if name != "base_plus_fog"}
    return {flag.code for flag in analysis.flags} | (reasons if len(reasons) == 1 else set())


@pytest.mark.parametrize("name", CASES)
def test_each_case_is_told(name):
    exposure, density, base, code = CASES[name]
    analysis = analyse_readings(Readings(exposure, density, base), box_speed=100)
    json.dumps(analysis.to_dict(), allow_nan=False)
    assert code in codes_of(analysis)


def test_a_bad_roll_leaves_its_neighbours_alone():
    good = Readings(X, GOOD, [0.2])
    bad = [Readings(*case[:3]) for case in CASES.values()]
    alone = json.dumps(analyse_readings(good).to_dict())
    assert json.dumps(analyse_many([*bad, good])[-1].to_dict()) == alone


def test_ten_thousand_points_are_read_as_a_curve():
    rng = np.random.default_rng(3)
    exposure = np.linspace(-3.5, -0.5, 10_000)
    density = 0.2 + 0.14 * np.logaddexp(0.0, (exposure + 2.6) / 0.2) + 0.01 * rng.standard_normal(10_000)
    analysis = analyse_readings(Readings(exposure, density, [0.2] * 50))
    place = analysis.measures["speed_point_log_exposure"]
    true_place = -2.6 + 0.2 * np.log(np.expm1(0.10 / 0.14))
    assert place.low <= true_place <= place.high
    # 10,000 readings of 0.01 D pin the curve to about 0.0005 D, 0.002 in log exposure; merging of
    # neighbours into 200 steps costs nothing visible.
    assert place.value == pytest.approx(true_place, abs=0.01)


@pytest.mark.parametrize("seed", range(60))
def test_random_rubbish_never_breaks_the_engine(seed):
    rng = np.random.default_rng(seed)
    count = int(rng.integers(0, 40))
    scale = 10.0 ** rng.uniform(-3, 3)
    exposure = rng.choice([rng.uniform(-4, 1, count), rng.integers(-3, 3, count) * 1.0])
    density = rng.standard_normal(count) * scale
    density[rng.random(count) < 0.1] = rng.choice([NAN, INF, -INF])
    analysis = analyse_readings(Readings(exposure, density, rng.standard_normal(rng.integers(0, 4)) * scale))
    json.dumps(analysis.to_dict(), allow_nan=False)


def test_refused_analyses_compare_and_pool_without_a_number():
    good = analyse_readings(Readings(X, GOOD, [0.2]))
    for case in ("empty", "reversed", "no unexposed area", "all NaN"):
        bad = analyse_readings(Readings(*CASES[case][:3]))
        for pair in ((bad, good), (good, bad), (bad, bad)):
            comparison = compare_with_reference(*pair)
            json.dumps(comparison.to_dict(), allow_nan=False)
            assert comparison.measures["speed_shift_stops"].value is None
            assert comparison.verdicts["speed_shift_stops"] == "unknown"
        assert pool_analyses([bad, bad]).measures["speed_point_log_exposure"].value is None
        assert "SINGLE_ROLL" in {flag.code for flag in pool_analyses([bad, good]).flags}


def test_criteria_outside_the_data_are_refused_not_clamped():
    short = analyse_readings(Readings(X[:13], GOOD[:13], [0.2])).measures
    assert short["speed_point_log_exposure"].value is not None
    assert short["delta_d_130"].reason == "N_OUT_OF_RANGE"
    assert short["iso_speed"].reason == "N_OUT_OF_RANGE"
    assert short["average_gradient_150"].reason == "NOT_REACHED"
    assert short["contrast_index"].reason == "NOT_REACHED"
    late = analyse_readings(Readings(X[9:], GOOD[9:], [0.2])).measures
    for name in ("speed_point_log_exposure", "iso_speed", "average_gradient_150", "toe_length"):
        assert late[name].reason == "BELOW_RANGE"
    assert late["gamma"].value == pytest.approx(0.70, abs=0.02)


def test_relative_exposure_gives_no_speed():
    measures = analyse_readings(Readings(X, GOOD, [0.2], exposure="relative"), box_speed=100).measures
    for name in ("iso_speed", "iso_speed_exact", "iso_degree", "exposure_index", "delta_x_speed"):
        assert measures[name].reason == "UNCALIBRATED"
    assert measures["box_difference_stops"].reason == "UNCALIBRATED"
    assert measures["contrast_index"].value is not None


def test_a_film_that_never_shoulders_says_so():
    measures = analyse_readings(Readings(X, GOOD, [0.2])).measures
    assert measures["shoulder_onset"].reason == "NOT_REACHED"
    assert measures["d_max"].is_lower_bound
    assert measures["useful_range"].is_lower_bound


def test_clipped_readings_give_no_maximum_density():
    clipped = analyse_readings(Readings(X, np.minimum(GOOD, 0.9), [0.2])).measures
    assert clipped["d_max"].reason == "SATURATED"
    assert clipped["shoulder_onset"].reason == "NOT_REACHED"
