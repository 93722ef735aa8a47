"""Wishes against intervals: every way they can lie to one another, and how often a "certain" is false."""

import numpy as np
import pytest

from curves.sensitometry import Measure, SensitometryError
from curves.sensitometry.comparing.suitability import all_wishes, wish_met
from curves.sensitometry.measures import withheld

NAME = "rms_granularity"
TWO_SIDED, AT_LEAST, AT_MOST = (
    Measure(NAME, 10.0, 9.0, 11.0),
    Measure(NAME, 10.0, 9.0, None),
    Measure(NAME, 10.0, None, 11.0),
)


@pytest.mark.parametrize(
    ("measure", "low", "high", "verdict"),
    [
        (TWO_SIDED, None, None, "certain"),
        (TWO_SIDED, 9.0, 11.0, "certain"),  # the ends belong to the range
        (TWO_SIDED, 9.1, None, "possible"),
        (TWO_SIDED, 11.1, None, "excluded"),
        (TWO_SIDED, None, 8.9, "excluded"),
        (TWO_SIDED, 9.5, 10.5, "possible"),
        (AT_LEAST, 8.0, None, "certain"),
        (AT_LEAST, None, 20.0, "possible"),
        (AT_LEAST, None, 8.0, "excluded"),
        (AT_LEAST, 12.0, None, "possible"),
        (AT_MOST, None, 12.0, "certain"),
        (AT_MOST, 12.0, None, "excluded"),
        (withheld(NAME, "NOT_MEASURED"), 1.0, 2.0, "possible"),
    ],
)
def test_each_way_that_interval_and_range_can_lie(measure, low, high, verdict):
    assert wish_met(measure, low, high) == verdict


def test_a_range_that_ends_before_it_begins_is_refused():
    with pytest.raises(SensitometryError):
        wish_met(TWO_SIDED, 2.0, 1.0)


def test_one_excluded_wish_excludes_and_one_open_leaves_open():
    assert all_wishes(["certain", "certain"]) == "certain"
    assert all_wishes(["certain", "possible"]) == "possible"
    assert all_wishes(["possible", "excluded", "certain"]) == "excluded"


def test_a_truth_just_outside_is_called_certain_in_at_most_one_of_forty():
    rng = np.random.default_rng(3)
    seen = 10.0 + rng.normal(0, 0.5, 4000)  # the range ends at 10
    half = 1.96 * 0.5
    verdicts = [wish_met(Measure(NAME, float(x), float(x - half), float(x + half)), high=10.0) for x in seen]
    # 2.5 % and three binomial standard errors of 4000 tries.
    assert verdicts.count("certain") / 4000 <= 0.025 + 3 * (0.025 * 0.975 / 4000) ** 0.5
