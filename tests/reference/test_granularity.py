"""Granularity: printed and derived numbers of the trade, and random dots against their exact variance.

Selwyn's and Nutting's formulas: secondary text. Definition of the noise power spectrum: IAEA, Diagnostic
Radiology Physics (2014), eq. 4.42. The worked numbers are derived from the formulas, to all their digits.
"""

import math

import numpy as np
import pytest

from scans.imaging.aperture import aperture_area, aperture_transfer, selwyn_granularity
from scans.imaging.detrend import Surface
from scans.imaging.dust import truncation_factor
from scans.imaging.grain import measure_patch
from scans.imaging.noise_power import noise_power_spectrum
from scans.imaging.scanner_limits import ScannerLimits
from scans.imaging.synthetic_grain import dot_field, dot_granularity, drawn_dot_granularity

FLAT = np.diag([1.0, 0.0, 0.0])  # coefficients of a surface that is one everywhere


def seen_of_white(pixel_sd, pitch_um, *, band_limited):
    """1000 sd through 48 um of white noise with a pixel's sd, over the Nyquist square or all frequencies."""
    if not band_limited:
        return 1000 * pixel_sd * pitch_um / math.sqrt(aperture_area())
    nyquist = 500 / pitch_um
    f = (np.arange(2000) + 0.5) / 2000 * nyquist
    passed = aperture_transfer(np.hypot(f[:, None], f)) ** 2
    return 1000 * pixel_sd * pitch_um * math.sqrt(float(passed.mean()) * 4 * nyquist**2) / 1000


def white_pixels(sd, pitch_um, *, noise=0.0):
    """What is read on 500 x 500 white pixels of density 1 that a perfectly sharp scanner saw."""
    pixels = 0.1 * (1 + sd * math.log(10) * np.random.default_rng(7).standard_normal((500, 500)))
    limits = ScannerLimits((0.1,), (0.1 * noise * math.log(10),), (0.0, 1000.0), (1.0, 1.0), width_error=0.0)
    return measure_patch(pixels, (25400 / pitch_um, 25400 / pitch_um), limits)


def test_aperture_and_selwyn():
    assert aperture_area() == pytest.approx(1809.557, abs=5e-4)
    assert selwyn_granularity(0.010) == pytest.approx(0.60159, abs=5e-6)


def test_power_at_zero_frequency():
    """W(0) = sd^2 A = G^2 / 2: 0.18096 um^2 for an RMS granularity of 10."""
    assert 0.010**2 * aperture_area() == pytest.approx(0.18096, abs=5e-6)
    assert selwyn_granularity(0.010) ** 2 / 2 == pytest.approx(0.18096, abs=5e-6)


def test_dot_that_reads_ten():
    """Nutting and Siedentopf: RMS 10 at density 1 is dots of 0.41667 um^2, 0.7284 um across."""
    area = 0.010**2 * aperture_area() * math.log(10)
    assert area == pytest.approx(0.41667, abs=5e-6)
    assert math.sqrt(4 * area / math.pi) == pytest.approx(0.7284, abs=5e-5)
    # So small a dot covers little twice within its own size only; the exact value is near the rule's.
    assert dot_granularity(0.7284, 0.05) == pytest.approx(10 * math.sqrt(0.05), rel=0.04)


def test_white_noise_through_the_aperture():
    """Pixel sd 0.05 at 5 um: 5.877 with all frequencies, 5.765 within the Nyquist square."""
    assert seen_of_white(0.05, 5, band_limited=False) == pytest.approx(5.877, abs=5e-4)
    assert seen_of_white(0.05, 5, band_limited=True) == pytest.approx(5.765, abs=5e-4)


@pytest.mark.parametrize(("ppi", "wrong_by"), [(4000, 6.7), (2400, 4.0)])
def test_pixel_deviation_is_not_granularity(ppi, wrong_by):
    pitch = 25400 / ppi
    assert math.sqrt(aperture_area()) / pitch == pytest.approx(wrong_by, abs=0.05)


def test_white_pixels_that_read_ten_at_4000():
    assert seen_of_white(0.0670, 6.35, band_limited=False) == pytest.approx(10.0, abs=0.01)


def test_scanner_noise_is_subtracted_in_squares():
    """Pixels of .067 of which .020 is the scanner's leave .0639: 9.54 through 48 um; known to 0.8 %."""
    found = white_pixels(0.067, 6.35, noise=0.020)
    left = seen_of_white(0.0639, 6.35, band_limited=False)
    assert left == pytest.approx(9.54, abs=0.005)
    assert found.rms_granularity.value == pytest.approx(left, rel=0.02)


def test_truncation():
    assert truncation_factor(3.0) == pytest.approx(0.98658, abs=5e-6)
    assert truncation_factor(2.5) == pytest.approx(0.95460, abs=5e-6)


def test_measured_spectrum_of_white_pixels():
    """W = sd^2 a^2 = 0.0625 um^2 at every frequency; 250,000 pixels know their variance to 0.28 %."""
    pixels = 1 + 0.05 * math.log(10) * np.random.default_rng(6).standard_normal((500, 500))
    spectrum = noise_power_spectrum(pixels, (5, 5), Surface(FLAT, 500, 500), np.ones((125, 125), bool))
    assert np.mean(spectrum.radial_power) == pytest.approx(0.0625, rel=0.01)
    inner = spectrum.radial_power[1:] - 0.0625
    # Errors as stated: their mean square is one, with 31 rings known to a quarter.
    assert np.mean((inner / spectrum.radial_error[1:]) ** 2) == pytest.approx(1, abs=0.75)


def test_measured_granularity_of_white_pixels():
    """The estimator on white pixels, sharp: 5.877 with the white tail; 500 x 500 pixels know it to 0.8 %."""
    found = white_pixels(0.05, 5).rms_granularity
    assert found.value == pytest.approx(5.877, rel=0.02)
    assert found.low < 5.877 < found.high


def test_independent_apertures():
    """1 / sqrt(2 (N - 1)); 6.25 mm^2 hold 3454 apertures side by side, and a spectrum uses them all over."""
    found = white_pixels(0.05, 5)
    apertures = found.independent_apertures
    assert found.errors["sampling"] == pytest.approx(1 / math.sqrt(2 * (apertures - 1)), rel=1e-6)
    assert 6.25e6 / aperture_area() < apertures < 3 * 6.25e6 / aperture_area()


@pytest.mark.parametrize(("dot", "exact"), [(4.0, 73.96), (3.0, 55.77)])
def test_random_dots_by_the_exact_integral(dot, exact):
    """Opaque dots at density 1; the rule sqrt(0.4343 a D / A) is 26 % low for them."""
    assert dot_granularity(dot, 1.0) == pytest.approx(exact, abs=0.005)
    rule = 1000 * math.sqrt(0.4343 * math.pi * dot**2 / 4 / aperture_area())
    assert rule / dot_granularity(dot, 1.0) == pytest.approx(0.74, abs=0.005)


def test_drawn_dots_approach_round_dots():
    fine = drawn_dot_granularity(4.0, 1.0, 6.35, oversampling=64)
    assert fine == pytest.approx(dot_granularity(4.0, 1.0), rel=0.005)


@pytest.mark.parametrize(("dot", "density"), [(3.0, 1.0), (4.0, 1.0), (3.0, 0.5)])
def test_random_dots_as_scanned(dot, density):
    """Four fields of 1.5 mm, each known to 1.3 %: their mean to 0.7 %, so 2 % is three of those."""
    generator = np.random.default_rng(31)
    values = []
    for _ in range(4):
        field = dot_field((236, 236), 6.35, dot, density, generator, blur_um=3.81)
        limits = ScannerLimits.gaussian(3.81, 0.0, 10**-density, width_error=0.0)
        found = measure_patch(field, (4000, 4000), limits)
        assert found.density == pytest.approx(density, abs=0.02)
        values.append(found.rms_granularity.value)
    assert np.mean(values) == pytest.approx(drawn_dot_granularity(dot, density, 6.35), rel=0.02)
