"""Tone reproduction with flare: the diagram is Jones's of 1920 (from memory); numbers derived from it."""

import numpy as np
import pytest

from curves.sensitometry.printing.tone_reproduction import flare_exposure, flare_for_range, reproduce_tones
from curves.sensitometry.sampled_curve import SampledCurve


def test_flare_that_cuts_a_range_of_2_20_to_1_80():
    assert flare_for_range(2.20, 1.80).value == pytest.approx(0.009693, abs=5e-7)
    assert float(-flare_exposure(-2.20, 0.009693)) == pytest.approx(1.80, abs=5e-5)


def test_one_per_cent_of_flare():
    """A range of 2.20 becomes 1.7919."""
    assert float(-flare_exposure(-2.20, 0.01)) == pytest.approx(1.7919, abs=5e-5)


def test_slope_factor_of_flare_at_the_shadow():
    """L / (L + f) at L = 10^-2.20, f = 0.009693: 0.3943.

    With film, enlarger and paper all of slope 1 the separation of tones is that factor alone.
    """
    x = np.linspace(-4, 1, 51)
    straight = SampledCurve.through(x, x + 4.2)
    tones = reproduce_tones(
        straight,
        straight,
        [-2.20, -1.0, 0.0],
        highlight_log_exposure=-1.0,
        print_log_exposure=1.0,
        flare=0.009693,
    )
    assert tones.separation[0] == pytest.approx(0.3943, abs=5e-5)


def test_overall_slope_is_the_product_of_the_quadrants():
    """G_film * Q * G_paper on straight curves without flare: 0.6 * 1.2 * 2.0 = 1.44."""
    x = np.linspace(-4, 2, 61)
    film, paper = SampledCurve.through(x, 0.1 + 0.6 * (x + 4)), SampledCurve.through(x, 0.05 + 2.0 * (x + 4))
    tones = reproduce_tones(
        film,
        paper,
        np.linspace(-0.9, 0, 10),
        highlight_log_exposure=0.0,
        print_log_exposure=0.5,
        callier_factor=1.2,
    )
    assert tones.separation == pytest.approx(np.full(10, 1.44), rel=1e-9)
    assert np.diff(tones.print_density) / np.diff(tones.log_luminance) == pytest.approx(
        np.full(9, -1.44), rel=1e-9
    )
