"""Equivalence tests: error rates, ratios, small samples, and the honesty of not knowing."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curves.sensitometry.comparing.equivalence import (
    HOUSE_MARGINS,
    Margin,
    compare_films,
    compare_measures,
    equivalence_from_summary,
)
from curves.sensitometry.measures import Measure, SensitometryError, withheld


def measure(value, sd):
    return Measure("contrast_index", value, value - 1.959964 * sd, value + 1.959964 * sd)


def test_at_the_margin_equivalence_is_claimed_in_five_per_cent():
    """The size of the test: truly different by the margin, 2,000 pairs of 6 films; three errors are 1.5 %."""
    rng = np.random.default_rng(61)
    claims = [
        compare_films("x", rng.normal(0.05, 0.01, 6), rng.normal(0, 0.01, 6), Margin(0.05)).is_equivalent
        for _ in range(2000)
    ]
    assert np.mean(claims) == pytest.approx(0.05, abs=0.015)


def test_equal_stocks_are_shown_equal_given_enough_films_and_little_spread():
    rng = np.random.default_rng(62)
    claims = [
        compare_films("x", rng.normal(0, 0.01, 6), rng.normal(0, 0.01, 6), Margin(0.05)).is_equivalent
        for _ in range(300)
    ]
    assert np.mean(claims) > 0.99


def test_wide_scatter_shows_neither_sameness_nor_difference():
    """A test for a difference finds none (p > 0.05), and that is not taken for sameness."""
    result = compare_films("x", [0.50, 0.70, 0.60], [0.52, 0.74, 0.63], Margin(0.03))
    assert result.difference_p_value > 0.05
    assert result.verdict == "not shown"
    assert not result.is_equivalent
    assert result.closeness > 1


def test_clearly_different_stocks_are_called_so():
    assert compare_films("x", [0.70, 0.71, 0.69], [0.50, 0.51, 0.49], Margin(0.03)).verdict == "different"


@settings(deadline=None, max_examples=60)  # other work may share the machine
@given(st.floats(-0.2, 0.2), st.floats(0.001, 0.1), st.floats(2, 50), st.floats(0.01, 0.2))
def test_verdict_p_value_interval_and_closeness_agree(difference, error, degrees, width):
    result = equivalence_from_summary("x", difference, error, degrees, Margin(width))
    inside = -width < result.difference.low and result.difference.high < width
    assert result.is_equivalent == inside
    assert result.is_equivalent == (result.closeness < 1)
    # Equality at the very edge is decided by the last bit on either side.
    if abs(result.p_value - 0.05) > 1e-9:
        assert result.is_equivalent == (result.p_value < 0.05)


@settings(deadline=None, max_examples=60)  # other work may share the machine
@given(st.lists(st.floats(0.4, 0.8), min_size=2, max_size=6, unique=True), st.floats(-1, 1))
def test_exchange_turns_the_difference_round_and_a_shift_of_both_does_nothing(films, shift):
    others = np.array(films[::-1]) * 0.99 + 0.01 * np.arange(len(films))
    plain = compare_films("x", films, others, Margin(0.05))
    turned = compare_films("x", others, films, Margin(0.05))
    moved = compare_films("x", np.array(films) + shift, others + shift, Margin(0.05))
    if plain.p_value is None:
        return
    assert turned.difference.value == pytest.approx(-plain.difference.value, abs=1e-9)
    assert turned.p_value == pytest.approx(plain.p_value, abs=1e-6)
    assert moved.p_value == pytest.approx(plain.p_value, abs=1e-6)


@pytest.mark.parametrize(("films", "others"), [([], []), ([0.6], [0.6, 0.61]), ([0.6, np.nan], [0.6, 0.61])])
def test_too_few_films_are_not_judged(films, others):
    result = compare_films("x", films, others, Margin(0.05))
    assert result.verdict == "unknown"
    assert result.is_equivalent is None
    assert result.difference.reason == "TOO_FEW_FILMS"


def test_films_that_read_exactly_alike_show_no_spread_to_judge_by():
    result = compare_films("x", [0.6, 0.6], [0.6, 0.6], Margin(0.05))
    assert result.difference.reason == "NO_INTERVAL"


def test_unequal_spreads_take_fewer_degrees_of_freedom():
    a, b = [0.600, 0.601, 0.599, 0.600], [0.55, 0.66, 0.60, 0.63]
    pooled = compare_films("x", a, b, Margin(0.1))
    welch = compare_films("x", a, b, Margin(0.1), equal_variances=False)
    assert welch.p_value > pooled.p_value


def test_a_ratio_is_judged_by_the_quotient():
    """15 % either way: 1.10 with little spread passes, 1.20 does not; both scales in proportion alike."""
    for scale in (1.0, 10.0):
        a = scale * np.array([11.0, 11.1, 10.9, 11.0])
        b = scale * np.array([10.0, 10.1, 9.9, 10.0])
        result = compare_films("rms", a, b, HOUSE_MARGINS["rms_granularity"])
        assert result.is_equivalent
        assert result.difference.value == pytest.approx(math.log(1.1), abs=1e-4)
        assert not compare_films("rms", a * 1.2 / 1.1, b, HOUSE_MARGINS["rms_granularity"]).is_equivalent
    limits = Margin(0.15, is_ratio=True).limits
    assert np.exp(limits) == pytest.approx((0.85, 1.15))


def test_stored_measures_are_compared_by_their_intervals():
    result = compare_measures("contrast_index", measure(0.60, 0.005), measure(0.61, 0.005), Margin(0.03))
    assert result.is_equivalent
    # Known errors: the normal 90 % interval of a difference with sd 0.00707.
    assert result.difference.high == pytest.approx(-0.01 + 1.644854 * math.hypot(0.005, 0.005), abs=1e-6)
    ratio = compare_measures("rms", measure(11, 0.1), measure(10, 0.1), Margin(0.15, is_ratio=True))
    assert ratio.is_equivalent


@pytest.mark.parametrize(
    ("one", "reason"),
    [
        (withheld("contrast_index", "NOT_REACHED"), "NOT_REACHED"),
        (Measure("contrast_index", 0.6), "NO_INTERVAL"),
        (Measure("contrast_index", 0.6, 0.5, None), "NO_INTERVAL"),
    ],
)
def test_withheld_and_open_measures_are_unknown(one, reason):
    for pair in ((one, measure(0.6, 0.01)), (measure(0.6, 0.01), one)):
        result = compare_measures("contrast_index", *pair, Margin(0.03))
        assert result.verdict == "unknown"
        assert result.difference.reason == reason


def test_a_ratio_of_nothing_is_unknown():
    result = compare_measures("rms", measure(0.0, 0.1), measure(10, 0.1), Margin(0.15, is_ratio=True))
    assert result.difference.reason == "INVALID_INPUT"


@pytest.mark.parametrize("bad", [0, -0.1, float("nan"), float("inf")])
def test_impossible_margins_are_refused(bad):
    with pytest.raises(SensitometryError):
        Margin(bad)
    with pytest.raises(SensitometryError):
        Margin(1.0, is_ratio=True)


@pytest.mark.parametrize("alpha", [0, 0.5, -1, float("nan")])
def test_impossible_levels_are_refused(alpha):
    with pytest.raises(SensitometryError):
        equivalence_from_summary("x", 0.0, 0.1, 5, Margin(0.1), alpha)


@pytest.mark.parametrize("summary", [(float("nan"), 0.1, 5), (0.0, float("inf"), 5), (0.0, 0.1, 0)])
def test_missing_numbers_are_unknown(summary):
    assert equivalence_from_summary("x", *summary, Margin(0.1)).difference.reason == "INVALID_INPUT"
