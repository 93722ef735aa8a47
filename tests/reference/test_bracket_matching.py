"""Bracket matching: worked example and the error of a nearest frame, derived; common practice."""

import math

import pytest

from curves.sensitometry.exposing.bracket import Bracket, match_bracket, nearest_frame_sd
from curves.sensitometry.speed_scale import STOP


def test_index_between_two_frames():
    """320 at 0.335 and 250 at 0.395, reference 0.35: a quarter of the third, 299.7 by true settings."""
    bracket = Bracket.of([320, 250], [0.335, 0.395])
    found = match_bracket(bracket, 0.35, 317.48)
    assert found["matched_exposure_index"].value == pytest.approx(299.7, abs=0.05)
    # A quarter of a third of a stop slower than the reference at that index.
    assert found["relative_speed"].value == pytest.approx(-1 / 12, abs=0.0005)


def test_nearest_frame_only():
    """A third of a stop over the square root of twelve: 0.096 stop, 0.029 log exposure."""
    assert nearest_frame_sd(1 / 3) == pytest.approx(0.096, abs=0.0005)
    assert nearest_frame_sd(1 / 3) * STOP == pytest.approx(0.029, abs=0.0005)


def test_error_of_an_interpolated_match():
    """sqrt(sd_test^2 + sd_ref^2) / slope where a frame is met exactly, with a known slope."""
    bracket = Bracket.of([320, 250, 200], [0.335, 0.395, 0.46], density_sd=0.01)
    found = match_bracket(bracket, 0.395, 252, reference_density_sd=0.01, slope=0.6)
    expected = math.hypot(0.01, 0.01) / 0.6 / STOP
    assert found["relative_speed"].standard_error == pytest.approx(expected, rel=1e-6)


def test_reference_outside_the_bracket():
    bracket = Bracket.of([320, 250], [0.335, 0.395])
    assert match_bracket(bracket, 0.30, 320)["matched_exposure_index"].reason == "BELOW_RANGE"
    assert match_bracket(bracket, 0.45, 320)["matched_exposure_index"].reason == "NOT_REACHED"
