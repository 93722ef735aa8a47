"""Colour shifts: contrast does not pass for colour, intervals hold, toe and shoulder are withheld."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import isotonic_regression

from curves.sensitometry.colour_response import Patch, filter_factor, patch_shifts, shifts_from_reference
from curves.sensitometry.measures import SensitometryError
from curves.sensitometry.sampled_curve import SampledCurve
from curves.sensitometry.speed_scale import STOP

X = np.linspace(-3.0, 1.5, 91)


def film_density(x, gradient=0.6, shoulder=0.8):
    x = np.asarray(x)
    soft = 0.15
    return 0.2 + gradient * soft * (np.logaddexp(0, (x + 2) / soft) - np.logaddexp(0, (x - shoulder) / soft))


def film(gradient=0.6, sd=0.0):
    return SampledCurve.through(X, film_density(X, gradient), sd)


def patch(name, luminance, shift_stops, gradient=0.6, sd=0.0):
    """A patch whose exposure is that of a grey of its luminance (white at -0.2) and so many stops more."""
    return Patch(
        name, luminance, float(film_density(-0.2 + math.log10(luminance) + shift_stops * STOP, gradient)), sd
    )


@settings(deadline=None, max_examples=60)  # other work may share the machine
@given(st.floats(-2, 1), st.floats(0.4, 1.2), st.floats(0.08, 0.6))
def test_a_known_shift_is_found_whatever_the_contrast(shift, gradient, luminance):
    """Cubic pieces 0.05 apart: 0.005 stop."""
    found = patch_shifts(
        film(gradient),
        [patch("red", luminance, shift, gradient)],
        [patch("grey", 0.18, 0, gradient), patch("light", 0.5, 0, gradient)],
    )
    assert found["red"].value == pytest.approx(shift, abs=0.005)


def test_a_speed_difference_is_not_a_colour_difference():
    test = patch_shifts(film(), [patch("red", 0.2, -0.5)], [patch("grey", 0.18, 0)])
    slower = SampledCurve.through(X + 0.3, film_density(X))
    reference = patch_shifts(slower, [patch("red", 0.2, -0.5)], [patch("grey", 0.18, 0)])
    difference = shifts_from_reference(test, reference)["red"]
    assert difference.value == pytest.approx(0.0, abs=1e-6)


def test_intervals_hold_the_truth():
    """400 readings of two patches and two greys: three standard errors of 95 % are 3.3 %."""
    rng = np.random.default_rng(53)
    hits = []
    for _ in range(400):
        noisy = SampledCurve.through(
            X, isotonic_regression(film_density(X) + 0.004 * rng.standard_normal(X.size)).x, 0.004
        )
        patches, greys = (
            [
                Patch(one.name, one.luminance_factor, one.density + 0.01 * rng.standard_normal(), 0.01)
                for one in group
            ]
            for group in (
                [patch("red", 0.2, -0.7), patch("blue", 0.1, 0.4)],
                [patch("grey", 0.18, 0), patch("light", 0.5, 0)],
            )
        )
        found = patch_shifts(noisy, patches, greys)
        hits += [
            found["red"].low <= -0.7 <= found["red"].high,
            found["blue"].low <= 0.4 <= found["blue"].high,
        ]
    assert 0.917 <= np.mean(hits) <= 0.983


def test_the_curves_common_error_cancels_between_near_patches():
    """A curve whose whole density is uncertain by one amount says nothing wrong about shifts."""
    base = film()
    shaky = SampledCurve(base.log_exposure, base.density, base.gradient, np.full((1, X.size), 0.05))
    found = patch_shifts(shaky, [patch("red", 0.18, -0.2)], [patch("grey", 0.18, 0)])["red"]
    # On the straight part the slopes agree to a few per cent, and so the errors.
    assert found.high - found.low < 0.05


@pytest.mark.parametrize(
    ("density", "reason"),
    [
        (0.205, "IN_TOE"),
        (0.1, "IN_TOE"),
        (1.8795, "IN_SHOULDER"),
        (2.5, "IN_SHOULDER"),
        (float("nan"), "INVALID_INPUT"),
    ],
)
def test_patches_that_cannot_be_read(density, reason):
    found = patch_shifts(film(), [Patch("red", 0.2, density)], [patch("grey", 0.18, 0)])
    assert found["red"].reason == reason


def test_without_a_readable_grey_nothing_is_said():
    found = patch_shifts(film(), [patch("red", 0.2, 0)], [Patch("grey", 0.18, 0.205)])
    assert found["red"].reason == "IN_TOE"
    assert "grey" in found["red"].note
    one_bad = patch_shifts(
        film(), [patch("red", 0.2, 0)], [Patch("dark", 0.01, 0.205), patch("grey", 0.18, 0)]
    )
    assert one_bad["red"].value == pytest.approx(0, abs=0.005)


def test_missing_patches_and_reasons_are_handed_on():
    greys = [patch("grey", 0.18, 0)]
    test = patch_shifts(film(), [patch("red", 0.2, 0), Patch("blue", 0.1, 0.205)], greys)
    reference = patch_shifts(film(), [patch("green", 0.2, 0), patch("blue", 0.1, 0)], greys)
    found = shifts_from_reference(test, reference)
    assert {name: measure.reason for name, measure in found.items()} == {
        "red": "MISSING_MEASURE",
        "green": "MISSING_MEASURE",
        "blue": "IN_TOE",
    }
    assert shifts_from_reference(reference, test)["blue"].note == "in the reference"


def test_mistakes_are_refused():
    with pytest.raises(SensitometryError):
        patch_shifts(film(), [patch("red", 0.2, 0)], [])
    with pytest.raises(SensitometryError):
        patch_shifts(film(), [patch("red", 0.2, 0), patch("red", 0.3, 0)], [patch("grey", 0.18, 0)])


@pytest.mark.parametrize("luminance", [0.0, -1.0, float("nan"), 1e6])
def test_impossible_luminance(luminance):
    found = patch_shifts(film(), [Patch("red", luminance, 1.0)], [patch("grey", 0.18, 0)])
    assert found["red"].reason == "INVALID_INPUT"


def test_filter_factor_interval_and_reasons():
    factor = filter_factor(film(), 1.0, 1.0, STOP, density_sd=0.01, exposure_log_sd=0.02)
    log_sd = math.hypot(0.01 / 0.6, 0.01 / 0.6, 0.02)
    assert math.log10(factor.high / factor.value) == pytest.approx(1.959964 * log_sd, rel=0.02)
    assert filter_factor(film(), 1.0, 0.205).reason == "IN_TOE"
    assert filter_factor(film(), 1.0, 1.0, float("inf")).reason == "INVALID_INPUT"
