"""Two instruments on the same patches, corrections, and check readings over time."""

import json

import numpy as np
import pytest

from curves.sensitometry.agreeing.check_trend import FINDINGS, check_trend
from curves.sensitometry.agreeing.difference_plot import difference_plot
from curves.sensitometry.agreeing.instrument_correction import (
    Correction,
    corrected_density,
    instrument_correction,
)
from curves.sensitometry.measures import SensitometryError

NAN = float("nan")
PATCHES = 0.05 + 0.3 * np.arange(11)
SD = 0.005


def read(rng, true, offset=0.0, slope=1.0, decimals=2):
    """What an instrument reads: its own offset and slope, noise, rounded."""
    return np.round(offset + slope * np.asarray(true) + rng.normal(0, SD, np.shape(true)), decimals)


# --- The difference plot


@pytest.mark.parametrize("count", [6, 12, 40])
def test_limits_of_agreement_hold_the_truth(count):
    """1200 sets: the interval of each limit holds mean ± 1.96 sd in 95 % (standard error 0.6 points)."""
    rng = np.random.default_rng(61)
    held = np.zeros(4)
    for _ in range(1200):
        plot = difference_plot(rng.normal(0.7, 0, count) + rng.normal(0.02, 0.01, count), np.full(count, 0.7))
        ends = [(plot.low_limit, 0.02 - 1.959964 * 0.01), (plot.high_limit, 0.02 + 1.959964 * 0.01)]
        ends += [(plot.mean_difference, 0.02), (plot.difference_sd, 0.01)]
        held += [each.low <= truth <= each.high for each, truth in ends]
    assert held / 1200 == pytest.approx(np.full(4, 0.95), abs=0.02)


def test_a_difference_that_grows_with_density_is_told():
    rng = np.random.default_rng(62)
    steady = difference_plot(read(rng, PATCHES, 0.02), PATCHES)
    growing = difference_plot(read(rng, PATCHES, slope=1.05), PATCHES)
    assert steady.is_level
    assert not growing.is_level
    # Against the mean of both, a slope of 1.05 is 0.05 / 1.025.
    assert growing.slope.value == pytest.approx(0.0488, abs=0.006)


def test_few_pairs_are_withheld_and_missing_ones_left_out():
    plot = difference_plot([0.1, 0.5, NAN, 1.5, 2.0], [0.1, 0.5, 1.0, None, 2.0])
    assert plot.low_limit.reason == "TOO_FEW_PAIRS"
    assert plot.is_level is None
    assert plot.difference.size == 3
    assert json.dumps(plot.to_dict(), allow_nan=False)
    alike = difference_plot([0.7] * 6, [0.7] * 6)
    assert alike.slope.reason == "NO_ASSOCIATION"
    assert alike.high_limit.value == 0
    with pytest.raises(SensitometryError):
        difference_plot([0.1], [0.1, 0.2])


# --- Corrections


@pytest.mark.parametrize("known", [{}, {"reading_sd": SD, "reference_sd": SD}])
def test_an_instrument_off_its_zero_is_corrected_within_a_hundredth(known):
    """Offset 0.04 D and 2 % of slope, read to 0.01 D on both; 300 studies on eleven patches."""
    rng = np.random.default_rng(63)
    errors, held, refused = [], [], 0
    for _ in range(300):
        correction = instrument_correction(read(rng, PATCHES, 0.04, 0.98), read(rng, PATCHES), **known)
        refused += not correction.is_known
        if correction.is_known:
            for true in (0.3, 1.0, 2.5):
                found = corrected_density(correction, 0.04 + 0.98 * true)
                errors.append(found.value - true)
                held.append(found.low <= true <= found.high)
    assert np.mean(np.abs(errors) < 0.01) > 0.98
    assert abs(np.mean(errors)) < 0.0005
    # Nominal 95 %; three of 300 studies times three densities that share a study.
    assert 0.925 <= np.mean(held) <= 0.98
    # Refused as bent by chance in one of a hundred.
    assert refused <= 9


def test_the_uncertainty_of_the_reading_is_carried():
    rng = np.random.default_rng(64)
    correction = instrument_correction(read(rng, PATCHES, 0.04), read(rng, PATCHES))
    alone, with_reading = corrected_density(correction, 1.0), corrected_density(correction, 1.0, 0.02)
    assert with_reading.value == alone.value
    assert with_reading.standard_error == pytest.approx(
        np.hypot(alone.standard_error, 0.02 * correction.slope.value), rel=1e-6
    )
    assert alone.unit == "D"
    # In the middle of the patches the line is best known.
    assert alone.standard_error < corrected_density(correction, 3.0).standard_error


def test_the_covariance_is_that_of_simulated_lines():
    rng = np.random.default_rng(65)
    found = [
        instrument_correction(
            PATCHES + rng.normal(0, SD, 11), PATCHES + rng.normal(0, SD, 11), reading_sd=SD, reference_sd=SD
        )
        for _ in range(700)
    ]
    found = [each for each in found if each.is_known]
    lines = np.array([[each.offset.value, each.slope.value] for each in found])
    # Widened where chi-square is above its degrees, hence larger on average.
    plain = np.array([each.covariance for each in found if each.chi_square <= 9])
    assert plain.mean(axis=0) == pytest.approx(np.cov(lines.T), rel=0.2)


def test_it_is_withheld_beyond_the_tested_range():
    rng = np.random.default_rng(66)
    correction = instrument_correction(read(rng, PATCHES), read(rng, PATCHES))
    low, high = correction.tested
    assert corrected_density(correction, high + 0.005).value is not None
    for density in (low - 0.02, high + 0.02):
        assert corrected_density(correction, density).reason == "OUTSIDE_TESTED_RANGE"
    for density in (NAN, None, 1e300):
        assert corrected_density(correction, density).reason == "INVALID_INPUT"
    assert corrected_density(correction, 1.0, -1).reason == "INVALID_INPUT"


@pytest.mark.parametrize(
    ("readings", "reference", "reason"),
    [
        ([], [], "TOO_FEW_PAIRS"),
        ([0.1, 0.5, 1.0, 2.0], [0.1, 0.5, 1.0, 2.0], "TOO_FEW_PAIRS"),
        ([0.5] * 8, [0.5] * 8, "TOO_FEW_PAIRS"),
        ([0.1, 0.2, 0.3, 0.4, 0.5, 0.6], [0.1, 0.2, 0.3, 0.4, 0.5, 0.6], "TOO_FEW_PAIRS"),
        ([0.1, 0.5, NAN, 1.0, 2.0, 3.0], [0.1, 0.5, 0.7, 1.0, None, 3.0], "TOO_FEW_PAIRS"),
        (PATCHES, PATCHES + 0.04 * (PATCHES - 1.55) ** 2 + 0.001 * (-1.0) ** np.arange(11), "NOT_STRAIGHT"),
        ([0.1, 2.0, 0.5, 1.9, 0.3, 1.2], [1.0, 1.1, 1.2, 1.3, 1.4, 1.5], None),
    ],
)
def test_no_correction_without_grounds(readings, reference, reason):
    correction = instrument_correction(readings, reference)
    if reason is not None:
        assert correction.offset.reason == reason
        assert corrected_density(correction, 1.0).reason == reason
    assert json.dumps(correction.to_dict(), allow_nan=False)


def test_a_correction_is_stored_and_read_again():
    rng = np.random.default_rng(67)
    for correction in (
        instrument_correction(read(rng, PATCHES), read(rng, PATCHES)),
        instrument_correction([], [], reading_sd=SD, reference_sd=SD),
    ):
        assert Correction.from_dict(json.loads(json.dumps(correction.to_dict()))) == correction


def test_misuse_is_told():
    for arguments in (([0.1], [0.1, 0.2]), (["dark"], ["light"])):
        with pytest.raises(SensitometryError):
            instrument_correction(*arguments)
    with pytest.raises(SensitometryError):
        instrument_correction(PATCHES, PATCHES, reading_sd=0.0)


# --- Check readings over time

CERTIFIED = {"zero": (0.0, 0.002), "mid": (1.2, 0.005), "high": (2.8, 0.008)}
DAYS = 7.0 * np.arange(12)


def checks(rng, *, zero=0.0, span=0.0, bend=0.0, zero_drift=0.0, span_drift=0.0):
    """Weekly readings of the three levels; drifts are per 30 days."""
    months = DAYS / 30
    at = {"zero": 0.0, "mid": 1.2 / 2.8, "high": 1.0}
    return {
        level: CERTIFIED[level][0]
        + zero
        + zero_drift * months
        + place * (span + span_drift * months)
        + bend * (level == "mid")
        + rng.normal(0, SD, 12)
        for level, place in at.items()
    }


@pytest.mark.parametrize(
    ("fault", "expected"),
    [
        ({"zero": 0.05}, "zero_off"),
        ({"span": -0.06}, "span_off"),
        ({"bend": 0.05}, "bent"),
        ({"zero_drift": 0.01}, "zero_drifts"),
        ({"span_drift": -0.015}, "span_drifts"),
    ],
)
def test_each_fault_is_found(fault, expected):
    found = [check_trend(DAYS, checks(np.random.default_rng(seed), **fault), CERTIFIED) for seed in range(40)]
    assert sum(expected in each.findings for each in found) >= 38
    assert {each.state for each in found} == {"attention"}


def test_a_steady_instrument_is_steady_and_drift_intervals_hold_the_truth():
    rng = np.random.default_rng(68)
    steady, held = 0, []
    for _ in range(600):
        found = check_trend(DAYS, checks(rng), CERTIFIED)
        steady += found.state == "steady"
        drifting = check_trend(DAYS, checks(rng, zero_drift=0.01), CERTIFIED).quantities["zero"].drift
        held.append(drifting.low <= 0.01 <= drifting.high)
    # Three drifts are tested at 5 % each, partly of the same readings.
    assert steady / 600 > 0.83
    assert 0.93 <= np.mean(held) <= 0.975
    assert drifting.unit == "D per 30 days"


def test_too_few_checks_show_no_drift():
    rng = np.random.default_rng(69)
    readings = {level: values[:4] for level, values in checks(rng).items()}
    found = check_trend(DAYS[:4], readings, CERTIFIED)
    assert found.quantities["zero"].drift.reason == "TOO_FEW_POINTS"
    assert found.quantities["zero"].latest.value is not None
    same_day = check_trend(np.zeros(12), checks(rng), CERTIFIED)
    assert same_day.quantities["high"].drift.reason == "TOO_FEW_POINTS"
    assert same_day.quantities["high"].is_drifting is None


def test_a_level_that_was_never_read_leaves_it_unproven():
    readings = {**checks(np.random.default_rng(70)), "mid": [NAN] * 12}
    found = check_trend(DAYS, readings, CERTIFIED)
    assert found.quantities["bend"].latest.reason == "TOO_FEW_POINTS"
    assert found.state in ("unproven", "attention")
    assert json.dumps(found.to_dict(), allow_nan=False)
    assert check_trend([], {}, CERTIFIED).state == "unproven"
    assert all(text.endswith(".") for text in FINDINGS.values())


def test_readings_that_are_all_alike_do_not_prove_a_drift_of_nothing():
    readings = {level: np.full(12, CERTIFIED[level][0]) for level in CERTIFIED}
    drift = check_trend(DAYS, readings, CERTIFIED).quantities["zero"].drift
    assert drift.low < 0 < drift.high


@pytest.mark.parametrize(
    ("days", "readings", "certified", "options"),
    [
        ([0.0], {"zero": [0.0, 0.1]}, CERTIFIED, {}),
        ([0.0], {}, {"zero": (0.0, 0.01)}, {}),
        ([0.0], {}, {**CERTIFIED, "mid": (3.0, 0.01)}, {}),
        ([0.0], {}, {**CERTIFIED, "mid": (NAN, 0.01)}, {}),
        ([0.0], {}, CERTIFIED, {"tolerance": 0}),
        ([0.0], {}, CERTIFIED, {"reading_sd": NAN}),
    ],
)
def test_misuse_of_check_readings_is_told(days, readings, certified, options):
    with pytest.raises(SensitometryError):
        check_trend(days, readings, certified, **options)
