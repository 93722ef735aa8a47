"""Grain and sharpness of a stock from its rolls: algebraic cases, coverage, what is withheld."""

import math

import numpy as np
import pytest

from curves.sensitometry import Measure
from curves.sensitometry.comparing.picture_pooling import (
    ROLL_SCALE,
    pooled_picture_measure,
    pooled_picture_measures,
)
from curves.sensitometry.comparing.random_effects import pool_random_effects
from curves.sensitometry.measures import withheld

NAME = "rms_granularity"


def roll(value, error=0.02, name=NAME):
    return Measure(name, value, value * math.exp(-1.96 * error), value * math.exp(1.96 * error))


def test_one_roll_has_the_usual_spread_of_rolls_in_its_interval():
    pooled = pooled_picture_measure(NAME, [roll(12.0)], "1000 D")
    assert pooled.value == pytest.approx(12.0, rel=1e-9)
    # Reading error and the prior's mean square in quadrature; the grid of the spread ends at five scales.
    expected = 1.96 * math.hypot(0.02, ROLL_SCALE)
    assert math.log(pooled.high / pooled.value) == pytest.approx(expected, rel=0.02)
    assert math.log(pooled.value / pooled.low) == pytest.approx(expected, rel=0.02)
    assert "one roll" in pooled.note and pooled.unit == "1000 D"


def test_equal_rolls_give_their_value_and_a_narrower_interval():
    one = pooled_picture_measure(NAME, [roll(12.0)])
    four = pooled_picture_measure(NAME, [roll(12.0)] * 4)
    assert four.value == pytest.approx(12.0) and four.high < one.high and "4 rolls" in four.note


def test_scale_passes_through_and_order_does_not_matter():
    values = [9.0, 10.0, 11.5]
    first = pooled_picture_measure(NAME, [roll(value) for value in values])
    twice = pooled_picture_measure(NAME, [roll(2 * value) for value in reversed(values)])
    assert (twice.value, twice.low, twice.high) == pytest.approx(
        (2 * first.value, 2 * first.low, 2 * first.high)
    )


@pytest.mark.parametrize(
    ("rolls", "reason"),
    [
        ([], "NOT_MEASURED"),
        ([withheld(NAME, "ILL_DEFINED")], "NOT_MEASURED"),
        ([Measure(NAME, 12.0, None, 13.0, note="at most")], "NO_INTERVAL"),
    ],
)
def test_what_cannot_be_pooled_is_withheld_with_its_reason(rolls, reason):
    pooled = pooled_picture_measure(NAME, rolls)
    assert pooled.value is None and pooled.reason == reason


def test_a_roll_that_only_bounds_is_left_out_and_said():
    pooled = pooled_picture_measure(NAME, [roll(12.0), Measure(NAME, 30.0, None, 31.0)])
    assert pooled.value == pytest.approx(12.0) and "1 left out" in pooled.note


def test_many_stocks_at_once_are_what_each_is_alone():
    rng = np.random.default_rng(5)
    counts = [1, 3, 2, 3, 1, 0]
    stocks = [[roll(float(10 * np.exp(rng.normal(0, 0.1)))) for _ in range(count)] for count in counts]
    together = pooled_picture_measures(NAME, stocks)
    assert together == [pooled_picture_measure(NAME, rolls) for rolls in stocks]
    logs = [math.log(each.value) for each in stocks[1]]
    alone = pool_random_effects(logs, [0.02] * 3, ROLL_SCALE)
    assert math.log(together[1].value) == pytest.approx(alone.mean, rel=1e-12)
    assert math.log(together[1].high / together[1].value) == pytest.approx(
        1.959964 * alone.standard_error, rel=1e-4
    )


@pytest.mark.parametrize("count", [1, 2, 3, 6])
def test_the_interval_holds_the_truth_of_rolls_that_spread_as_assumed(count):
    rng = np.random.default_rng(count)
    held, tries = 0, 300
    for _ in range(tries):
        spread = abs(rng.normal(0, ROLL_SCALE))
        values = 10 * np.exp(rng.normal(0, spread, count) + rng.normal(0, 0.02, count))
        pooled = pooled_picture_measure(NAME, [roll(float(value)) for value in values])
        held += pooled.low <= 10 <= pooled.high
    # 95 % less two binomial standard errors of 300 tries.
    assert held / tries >= 0.95 - 2 * math.sqrt(0.05 * 0.95 / tries)
