"""Slanted edges: the numbers of a Gaussian edge, the derivative's correction, worked conversions.

A Gaussian's MTF50 and MTF10, rise and width are derived; the correction's argument is that of ISO 12233's
central difference, as derived from the filter itself; conversions are arithmetic.
"""

import math

import numpy as np
import pytest
from scipy import optimize, special

from scans.imaging.edge_spread import bin_pixels, difference_gain, edge_spread, first_crossing, modulation
from scans.imaging.scanner_limits import ScannerLimits
from scans.imaging.sharpness import measure_edge
from scans.imaging.synthetic_edge import MTF50_TIMES_BLUR, edge_mtf, gaussian_edge

PPI = (4000, 4000)


def test_gaussian_numbers():
    assert abs(MTF50_TIMES_BLUR - 0.187391) < 5e-7
    assert math.sqrt(math.log(10) / 2) / math.pi == pytest.approx(0.341541, abs=5e-7)
    assert edge_mtf(0.187391, 1.0) == pytest.approx(0.5, abs=1e-5)
    assert 2 * special.ndtri(0.9) == pytest.approx(2.5631, abs=5e-5)
    assert 2 * math.sqrt(2 * math.log(2)) == pytest.approx(2.3548, abs=5e-5)


def test_gain_of_the_central_difference_with_four_bins():
    assert 1 / difference_gain(0.5, 4) == pytest.approx(1.1107, abs=5e-5)
    assert 1 / difference_gain(0.25, 4) == pytest.approx(1.0262, abs=5e-5)


def test_gain_is_that_of_the_filter():
    """[-1/2, 0, 1/2] on samples of a sine, against its derivative."""
    at = np.arange(400) / 8
    sine = np.sin(2 * np.pi * 0.3 * at)
    slope = (sine[2:] - sine[:-2]) / 2 * 8
    truth = 2 * np.pi * 0.3 * np.cos(2 * np.pi * 0.3 * at[1:-1])
    assert slope == pytest.approx(difference_gain(0.3, 8) * truth, abs=1e-12)


def test_averaging_over_a_bin_with_four_bins():
    """A box of a quarter pixel, sinc(f / 4), is .9745 at f = .5; the second moment says the same."""
    assert np.sinc(0.125) == pytest.approx(0.9745, abs=5e-5)
    assert math.exp(-((2 * math.pi * 0.5 / 4) ** 2) / 24) == pytest.approx(0.9745, abs=1.5e-4)


@pytest.mark.parametrize(("pixel", "truth"), [(False, 0.18739), (True, 0.1800)])
def test_five_degrees_with_and_without_the_pixel(pixel, truth):
    """Point-sampled sd 1 pixel: .18739; integrated over square pixels .1800 (1.5 % stated, 0.3 % kept)."""
    shape, steps = (200, 200), 9 if pixel else 1
    shifts = (np.arange(steps) - (steps - 1) / 2) / steps
    lean = math.tan(math.radians(5))
    pictures = [gaussian_edge(shape, 1.0, 5, offset_px=-dx + dy * lean) for dx in shifts for dy in shifts]
    found = measure_edge(np.mean(pictures, axis=0), PPI).mtf50.value * 25.4 / 4000
    assert found == pytest.approx(truth, rel=0.003)


def test_cycles_per_millimetre():
    """4000 pixels an inch: Nyquist 78.74; a blur of one pixel 29.51; of 5 um 37.48 cycles/mm."""
    found = measure_edge(gaussian_edge((200, 200), 1.0, 5), PPI)
    assert found.frequency[-1] == pytest.approx(78.74, abs=5e-3)
    assert found.mtf50.value == pytest.approx(29.51, rel=0.001)
    found = measure_edge(gaussian_edge((200, 200), 5 / 6.35, 5), PPI)
    assert found.mtf50.value == pytest.approx(37.48, rel=0.001)


def test_scanner_taken_out_of_the_cascade():
    """Gaussians: 30 in all with a scanner of 50 leaves 37.5, since 1/f^2 subtract."""
    blur_um = {f: 1000 * MTF50_TIMES_BLUR / f for f in (30, 50)}
    picture = gaussian_edge((200, 200), blur_um[30] / 6.35, 5)
    found = measure_edge(picture, PPI, ScannerLimits.gaussian(blur_um[50], width_error=0.0))
    assert found.mtf50.value == pytest.approx(30, rel=0.001)
    assert found.film_mtf50.value == pytest.approx(37.5, rel=0.002)


@pytest.mark.parametrize("angle", [2.0, 5.0, 7.0, 11.0, 14.0])
def test_agrees_with_a_general_least_squares_fit(angle):
    """scipy.optimize.curve_fit of a normal distribution function to all pixels, contrast to noise 50."""
    generator = np.random.default_rng(9)
    picture = gaussian_edge((160, 120), 0.9, angle, noise_sd=0.009, generator=generator)
    y, x = (each.ravel() for each in np.mgrid[:160, :120])

    def edge(places, start, slope, blur, dark, bright):
        across = (places[0] - start - slope * places[1]) / np.hypot(1, slope)
        return dark + (bright - dark) * special.ndtr(across / blur)

    slope = math.tan(math.radians(angle))
    first = (59.5 - 79.5 * slope, slope, 1.2, 0.06, 0.45)
    fit, _ = optimize.curve_fit(edge, np.array([x, y]), picture.ravel(), p0=first)
    found = measure_edge(picture, PPI).mtf50
    by_fit = MTF50_TIMES_BLUR / fit[2] * 4000 / 25.4
    assert found.value == pytest.approx(by_fit, rel=0.035)  # three of our 1.2 %; the fit knows it is Gaussian
    assert found.low < by_fit * 1.01 and by_fit * 0.99 < found.high


def test_first_crossing():
    frequency, mtf = np.array([0.0, 1, 2, 3]), np.array([1.0, 0.8, 0.4, 0.6])
    assert first_crossing(frequency, mtf, 0.5) == pytest.approx(1.75)
    assert first_crossing(frequency, mtf, 0.1) is None
    assert first_crossing(frequency, np.array([1.0, np.nan, 0.4, 0.3]), 0.5) is None


def test_bins_hold_every_pixel_once():
    generator = np.random.default_rng(1)
    across, values = generator.uniform(-20, 20, (50, 60)), generator.random((50, 60))
    sums = bin_pixels(across, values, 16)
    inside = np.abs(np.rint(across * 8)) <= 128
    assert sums.count.sum() == inside.sum()
    assert sums.value.sum() == pytest.approx(values[inside].sum())
    rest = sums.without(3)
    assert rest.count.sum() == inside.sum() - inside[15:20].sum()


def test_modulation_of_a_known_spread():
    """A Gaussian spread sampled at the bins, with nothing averaged: within 1e-6 of its MTF."""
    at = np.arange(-160, 161) / 8
    frequency = np.linspace(0, 0.5, 11)
    found = modulation(special.ndtr(at / 0.8)[None], np.zeros(1), 16, frequency)[0]
    assert found == pytest.approx(edge_mtf(frequency, 0.8), abs=1e-6)


def test_spread_is_read_where_the_pixels_are():
    """Pixels only at odd places of each bin of a straight ramp: the middles are met exactly."""
    generator = np.random.default_rng(2)
    across = np.sort(generator.uniform(-17, 17, (40, 400)))
    spread, scatter, gap = edge_spread(bin_pixels(across, 0.5 + 0.01 * across, 16))
    inner = slice(2, -2)
    assert spread[inner] == pytest.approx(0.5 + 0.01 * np.arange(-128, 129)[inner] / 8, abs=1e-9)
    assert scatter == pytest.approx(1 / 12, rel=0.05)  # evenly filled bins
    assert gap < 0.2
