"""The lab's spread from roll to roll: a known spread is found again, and too few rolls say nothing."""

import numpy as np
import pytest

from curves.sensitometry import Readings, analyse_many
from curves.sensitometry.comparing.lab_spread import FEWEST_DEGREES_OF_FREEDOM, estimate_lab_spread

STOP = 0.30103
EXPOSURES = np.repeat(-3.0 + 0.15 * np.arange(21), 2)


def roll(rng, *, shift=0.0, contrast=1.0, noise=0.01):
    """One roll of a soft-toe stock (closed form), moved in log exposure and stretched in contrast."""
    net = 0.65 * 0.2 * np.logaddexp(0.0, (EXPOSURES - shift + 2.2) / 0.2)
    read = 0.25 + contrast * net + rng.normal(0, noise, net.size)
    return Readings(EXPOSURES, read, 0.25 + rng.normal(0, noise, 3))


def lab(rng, stocks, rolls, *, shift_sd=0.0, contrast_sd=0.0):
    made = [
        roll(rng, shift=rng.normal(0, shift_sd), contrast=1 + rng.normal(0, contrast_sd))
        for _ in range(stocks * rolls)
    ]
    analyses = analyse_many(made)
    return [analyses[start : start + rolls] for start in range(0, len(analyses), rolls)]


def test_a_known_spread_is_found_again():
    spread = estimate_lab_spread(lab(np.random.default_rng(7), 60, 2, shift_sd=0.04, contrast_sd=0.03))
    assert spread.degrees_of_freedom["speed_stops"] == 60
    # A standard deviation from 60 degrees of freedom has a standard error of 9 %; three of them.
    assert spread.standard_deviations["speed_stops"] == pytest.approx(0.04 / STOP, rel=0.27)
    assert spread.standard_deviations["contrast_ratio"] == pytest.approx(0.03, rel=0.27)


def test_reading_error_alone_is_not_taken_for_spread():
    spread = estimate_lab_spread(lab(np.random.default_rng(8), 40, 2)).standard_deviations
    # What is left of pure reading error (about 0.1 stop, 1 % a roll) has to be well below it.
    assert spread["speed_stops"] < 0.05
    assert spread["contrast_ratio"] < 0.006
    assert spread["shape"] < 0.004


def test_three_rolls_a_stock_count_twice():
    spread = estimate_lab_spread(lab(np.random.default_rng(9), 4, 3, shift_sd=0.04))
    assert spread.degrees_of_freedom["speed_stops"] == 8


def test_too_few_rolls_say_nothing():
    assert estimate_lab_spread([]).standard_deviations == {}
    few = lab(np.random.default_rng(10), FEWEST_DEGREES_OF_FREEDOM - 1, 2) + lab(
        np.random.default_rng(11), 5, 1
    )
    spread = estimate_lab_spread(few)
    assert spread.standard_deviations == {}
    assert set(spread.degrees_of_freedom.values()) == {FEWEST_DEGREES_OF_FREEDOM - 1}
