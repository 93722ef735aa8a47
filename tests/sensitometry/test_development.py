"""Families: interpolation in log time, intervals, order and hostile input."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curves.sensitometry.developing.development import (
    DevelopmentFamily,
    aim_contrast,
    speed_at_standard_contrast,
    time_for_contrast,
)
from curves.sensitometry.measures import SensitometryError

TIMES, CONTRASTS = [5.0, 7.0, 10.0, 14.0], [0.42, 0.53, 0.64, 0.72]


def test_a_contrast_linear_in_log_time_is_read_exactly():
    family = DevelopmentFamily.of(TIMES, 0.2 + 0.5 * np.log10(TIMES), 0.01)
    aim = 0.2 + 0.5 * np.log10(8.3)
    assert time_for_contrast(family, aim).value == pytest.approx(8.3)


@settings(deadline=None, max_examples=60)  # other work may share the machine
@given(st.permutations(range(4)))
def test_order_does_not_matter(order):
    shuffled = DevelopmentFamily.of([TIMES[i] for i in order], [CONTRASTS[i] for i in order], 0.01)
    assert time_for_contrast(shuffled, 0.6) == time_for_contrast(
        DevelopmentFamily.of(TIMES, CONTRASTS, 0.01), 0.6
    )


def test_a_repeated_family_halves_the_variance_and_nothing_else():
    once = DevelopmentFamily.of(TIMES, CONTRASTS, 0.01)
    twice = DevelopmentFamily.of(TIMES * 2, CONTRASTS * 2, 0.01)
    assert twice.contrast == pytest.approx(once.contrast)
    assert twice.contrast_sd == pytest.approx(once.contrast_sd / np.sqrt(2))


@settings(deadline=None, max_examples=60)  # other work may share the machine
@given(st.floats(0.1, 10))
def test_a_slower_developer_only_lengthens_the_times(factor):
    plain = time_for_contrast(DevelopmentFamily.of(TIMES, CONTRASTS, 0.01), 0.6)
    slower = time_for_contrast(DevelopmentFamily.of(np.array(TIMES) * factor, CONTRASTS, 0.01), 0.6)
    for one, other in ((plain.value, slower.value), (plain.low, slower.low), (plain.high, slower.high)):
        # The interval is sought on a grid of 0.0003 in log time.
        assert other == pytest.approx(one * factor, rel=1e-3)


@pytest.mark.parametrize("sd", [0.005, 0.01, 0.02])
def test_intervals_hold_the_true_time(sd):
    """First-order truths, 3 or 4 times; 300 families, so three standard errors of 95 % are 3.8 %.

    The interval also allows for the bend between tested times, so it may hold the truth more often.
    """
    rng = np.random.default_rng(17)
    hits = []
    for _ in range(300):
        limit, rate = rng.uniform(0.8, 1.2), rng.uniform(0.06, 0.15)
        times = np.array([5, 7, 10, 14.0]) if rng.random() < 0.5 else np.array([6, 8.5, 12.0])
        contrast = limit * (1 - np.exp(-rate * times))
        truth = rng.uniform(times[0] * 1.15, times[-1] * 0.87)
        family = DevelopmentFamily.of(times, contrast + sd * rng.standard_normal(times.size), sd)
        found = time_for_contrast(family, limit * (1 - np.exp(-rate * truth)))
        if found.value is not None:
            hits.append(found.low <= truth <= found.high)
    assert len(hits) > 280
    assert 0.912 <= np.mean(hits) <= 0.99


def test_aims_outside_the_tested_contrasts_are_withheld():
    family = DevelopmentFamily.of(TIMES, CONTRASTS, 0.01)
    assert time_for_contrast(family, 0.41).reason == "BELOW_RANGE"
    assert time_for_contrast(family, 0.73).reason == "NOT_REACHED"
    assert time_for_contrast(family, 0.42).value == pytest.approx(5.0)
    assert time_for_contrast(family, 0.72).value == pytest.approx(14.0)
    assert "tested 5 to 14 min" in time_for_contrast(family, 0.73).note


def test_a_family_that_hardly_rises_has_no_time():
    family = DevelopmentFamily.of([6, 8, 11], [0.600, 0.601, 0.602], 0.02)
    assert time_for_contrast(family, 0.6005).reason == "NO_RISE"


def test_falling_and_doubled_contrasts():
    falling = DevelopmentFamily.of([6, 8, 11], [0.9, 0.7, 0.5], 0.01)
    assert time_for_contrast(falling, 0.6).reason == "NON_MONOTONE"
    wavy = DevelopmentFamily.of([5, 7, 10, 14], [0.5, 0.7, 0.55, 0.75], 0.005)
    found = time_for_contrast(wavy, 0.6)
    assert 10 < found.value < 14
    assert "more than once" in found.note


def test_two_times_say_that_a_third_is_needed():
    assert "third" in time_for_contrast(DevelopmentFamily.of([6, 9], [0.5, 0.7], 0.01), 0.6).note


@pytest.mark.parametrize(
    ("times", "contrasts"),
    [([], []), ([6], [0.6]), ([6, 6], [0.5, 0.7]), ([np.nan, 8], [0.5, 0.6]), ([-6, 0], [0.5, 0.6]),
     ([6, 8], [np.inf, 0.6]), ([1e300, 8], [0.5, 0.6])],
)  # fmt: skip
def test_too_few_usable_times(times, contrasts):
    family = DevelopmentFamily.of(times, contrasts, 0.01)
    assert time_for_contrast(family, 0.6).reason == "TOO_FEW_TIMES"


def test_lists_of_different_length_are_a_mistake():
    with pytest.raises(SensitometryError):
        DevelopmentFamily.of([6, 8], [0.5], 0.01)
    with pytest.raises(SensitometryError):
        speed_at_standard_contrast(DevelopmentFamily.of([6, 8], [0.7, 0.9], 0.01), [-2.0], 0.01)


def test_interval_of_the_speed_holds_the_truth():
    """Straight truths in log time; 300 families, three standard errors of 95 % are 3.8 %."""
    rng = np.random.default_rng(23)
    times = np.array([6.0, 8.0, 11.0])
    hits = []
    for _ in range(300):
        slope = rng.uniform(0.7, 1.1)
        delta = 0.80 + slope * np.log10(times / rng.uniform(6.8, 9.7))
        at = 10 ** np.interp(0.80, delta, np.log10(times))
        points = -2.0 - 0.3 * np.log10(times)
        family = DevelopmentFamily.of(times, delta + 0.015 * rng.standard_normal(3), 0.015)
        found = speed_at_standard_contrast(family, points + 0.02 * rng.standard_normal(3), 0.02)
        speed = found["standard_contrast_speed"]
        if speed.value is not None:
            truth = 0.8 * 10 ** (2.0 + 0.3 * np.log10(at))
            hits.append(speed.low <= truth <= speed.high)
    assert len(hits) > 270
    assert 0.912 <= np.mean(hits) <= 0.985


def test_speed_is_withheld_with_its_reason():
    family = DevelopmentFamily.of([6, 8, 11], [0.60, 0.70, 0.75], 0.01)
    found = speed_at_standard_contrast(family, [-2.0, -2.1, -2.2], 0.02)
    assert {measure.reason for measure in found.values()} == {"NOT_REACHED"}
    family = DevelopmentFamily.of([6, 8, 11], [0.70, 0.78, 0.90], 0.01)
    found = speed_at_standard_contrast(family, [-2.0, np.nan, -2.2], 0.02)
    assert found["standard_contrast_time"].value is not None
    assert found["standard_contrast_speed"].reason == "INVALID_INPUT"


@pytest.mark.parametrize(
    "ranges", [(1.0, 0.4, 0.4), (0.0, 2.0, 0.0), (1.0, float("nan"), 0.0), (-1.0, 2.0, 0.0)]
)
def test_impossible_ranges_give_no_aim(ranges):
    assert aim_contrast(*ranges).reason == "INVALID_INPUT"
