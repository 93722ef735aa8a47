"""Bracket matching between frames: known shifts, coverage, noise, and frames that do not reach."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curves.sensitometry.exposing.bracket import Bracket, match_bracket, nearest_frame_sd
from curves.sensitometry.measures import SensitometryError
from curves.sensitometry.speed_scale import STOP

INDICES = 100 * 2 ** (np.arange(5, -6, -1) / 3)
MARKS = [320, 250, 200, 160, 125, 100, 80, 64, 50, 40, 32]


def straight(x):
    return 0.40 + 0.6 * np.asarray(x)


def soft_toe(x):
    return 0.12 * np.logaddexp(0, np.asarray(x) / 0.2)


@settings(deadline=None, max_examples=60)  # other work may share the machine
@given(st.floats(-1.5, 1.5))
def test_a_known_speed_is_found_on_a_straight_film(stops):
    """Linear interpolation is exact there; marks stand for true thirds counted from 100."""
    densities = straight(-np.log10(INDICES / 100) + stops * STOP)
    found = match_bracket(Bracket.of(MARKS, densities), 0.40, 100)
    assert found["relative_speed"].value == pytest.approx(stops, abs=1e-9)
    assert found["matched_exposure_index"].value == pytest.approx(100 * 2**stops, rel=1e-9)
    nearest = found["nearest_frame_speed"]
    assert abs(nearest.value - stops) <= 1 / 6 + 1e-9


@pytest.mark.parametrize("film", [straight, soft_toe])
@pytest.mark.parametrize(("sd", "jitter"), [(0.005, 0.0), (0.015, 0.0), (0.015, 0.03)])
def test_intervals_hold_the_truth(film, sd, jitter):
    """500 brackets: three standard errors of 95 % are 2.9 %, and a fifth is left for rounding shares."""
    rng = np.random.default_rng(97)
    x = -np.log10(INDICES / 100)
    between, nearest = [], []
    for _ in range(500):
        shift = rng.uniform(-0.3, 0.3)
        densities = film(x + shift + jitter * rng.standard_normal(11)) + sd * rng.standard_normal(11)
        wanted = float(film(jitter * rng.standard_normal())) + sd * rng.standard_normal()
        bracket = Bracket.of(MARKS, densities, density_sd=sd, setting_sd=jitter)
        found = match_bracket(bracket, wanted, 100, reference_density_sd=sd, reference_setting_sd=jitter)
        if found["relative_speed"].value is None:
            continue
        for held, name in ((between, "relative_speed"), (nearest, "nearest_frame_speed")):
            held.append(found[name].low <= shift / STOP <= found[name].high)
    assert len(between) > 480
    assert 0.915 <= np.mean(between) <= 0.985
    assert 0.90 <= np.mean(nearest) <= 0.99


def test_roll_wide_error_is_added_in_full():
    bracket = Bracket.of(MARKS, straight(-np.log10(INDICES / 100)), roll_sd=0.05)
    found = match_bracket(bracket, 0.40, 100)
    assert found["relative_speed"].standard_error == pytest.approx(0.05 / STOP, rel=1e-6)


def test_nominal_marks_and_true_indices():
    densities = [0.335, 0.395]
    nominal = match_bracket(Bracket.of([320, 250], densities), 0.35, 320)["matched_exposure_index"].value
    exact = match_bracket(Bracket.of([320, 250], densities, is_nominal=False), 0.35, 320)
    assert nominal == pytest.approx(317.48 * 2 ** (-1 / 12), abs=0.01)
    assert exact["matched_exposure_index"].value == pytest.approx(320 * (250 / 320) ** 0.25)


@settings(deadline=None, max_examples=40)  # other work may share the machine
@given(st.permutations(range(11)), st.floats(-0.2, 0.5))
def test_order_and_a_density_added_to_both_do_not_matter(order, added):
    densities = soft_toe(-np.log10(INDICES / 100))
    plain = match_bracket(Bracket.of(MARKS, densities, density_sd=0.01), 0.15, 100)
    other = match_bracket(
        Bracket.of([MARKS[i] for i in order], densities[list(order)] + added, density_sd=0.01),
        0.15 + added,
        100,
    )
    for name in plain:
        assert other[name].value == pytest.approx(plain[name].value, rel=1e-7)
        assert other[name].high == pytest.approx(plain[name].high, rel=1e-6)


def test_densities_that_fall_by_noise_are_pooled():
    """0.30, 0.42, 0.38, 0.50: the middle two stand at 0.40, met midway between them."""
    bracket = Bracket.of([200, 160, 125, 100], [0.30, 0.42, 0.38, 0.50], density_sd=0.02)
    found = match_bracket(bracket, 0.40, 100)
    middle = math.sqrt(bracket.exposure_index[1] * bracket.exposure_index[2])
    assert found["matched_exposure_index"].value == pytest.approx(middle)
    assert "falls" not in found["matched_exposure_index"].note
    careful = Bracket.of([200, 160, 125, 100], [0.30, 0.42, 0.38, 0.50], density_sd=0.005)
    assert "falls by 0.04" in match_bracket(careful, 0.40, 100)["matched_exposure_index"].note


@pytest.mark.parametrize(
    ("indices", "densities", "wanted", "reason"),
    [
        ([320, 250], [0.335, 0.395], 0.30, "BELOW_RANGE"),
        ([320, 250], [0.335, 0.395], 0.45, "NOT_REACHED"),
        ([320], [0.335], 0.335, "TOO_FEW_FRAMES"),
        ([], [], 0.3, "TOO_FEW_FRAMES"),
        ([320, np.nan, -5], [0.3, 0.4, 0.5], 0.3, "TOO_FEW_FRAMES"),
        ([320, 250, 200], [0.3, 0.3, 0.3], 0.3, "NO_RISE"),
        ([320, 250, 200], [0.5, 0.4, 0.3], 0.4, "NO_RISE"),
        ([320, 250], [0.335, 0.395], np.nan, "INVALID_INPUT"),
        ([320, 250], [0.335, 1e300], 0.35, "TOO_FEW_FRAMES"),
    ],
)
def test_withheld(indices, densities, wanted, reason):
    found = match_bracket(Bracket.of(indices, densities), wanted, 100)
    assert {measure.reason for measure in found.values()} == {reason}


def test_an_impossible_reference_index_is_withheld():
    found = match_bracket(Bracket.of([320, 250], [0.335, 0.395]), 0.35, 0)
    assert found["relative_speed"].reason == "INVALID_INPUT"


def test_mistakes_are_refused():
    with pytest.raises(SensitometryError):
        Bracket.of([320, 250], [0.3])
    with pytest.raises(SensitometryError):
        Bracket.of([320, 250], [0.3, 0.4], density_sd=-0.01)
    with pytest.raises(SensitometryError):
        nearest_frame_sd(0)
