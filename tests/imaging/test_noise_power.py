"""The spectrum: its integral is the variance, gaps leave no mark, and the trend comes off without loss."""

import math

import numpy as np
import pytest
from scipy import signal

from scans.imaging.detrend import BLOCK, Surface, block_statistics, fit_surface
from scans.imaging.dust import clean_blocks
from scans.imaging.noise_power import noise_power_spectrum, pixel_covariance
from scans.imaging.synthetic_grain import SPECTRA, grain_field, scaled_spectrum

PITCH = 6.35
ONE = np.diag([1.0, 0.0, 0.0])


def field_of(kind, shape=(400, 360), seed=1):
    spectrum = scaled_spectrum(SPECTRA[kind], 10.0)
    field = grain_field(shape, PITCH, spectrum, np.random.default_rng(seed), blur_um=0.6 * PITCH)
    return field, lambda f: spectrum(f) * np.exp(-((2 * np.pi * 0.6 * PITCH * f / 1000) ** 2))


def everything(shape):
    return np.ones((shape[0] // BLOCK, shape[1] // BLOCK), dtype=bool)


@pytest.mark.parametrize("kind", SPECTRA)
def test_integral_is_the_variance(kind):
    """Exactly the variance of these pixels; within 2 % that of the film, which they know to 0.4 %."""
    field, truth = field_of(kind)
    surface = Surface(ONE, *field.shape)
    found = noise_power_spectrum(field, (PITCH, PITCH), surface, everything(field.shape))
    step = (found.frequency_x[1] - found.frequency_x[0]) / 1000
    integral = float(found.power.sum()) * step**2
    assert integral == pytest.approx(float(field.var()) / math.log(10) ** 2, rel=1e-4)
    f = np.linspace(0, 400, 40_001)
    assert integral == pytest.approx(np.trapezoid(truth(f) * 2 * np.pi * f, f) / 1e6, rel=0.02)


def test_spectrum_follows_the_truth():
    """Ring by ring within four of the stated errors, from 6 cycles/mm to the Nyquist frequency."""
    field, truth = field_of("two scales", (900, 900))
    surface = Surface(ONE, *field.shape)
    found = noise_power_spectrum(field, (PITCH, PITCH), surface, everything(field.shape))
    rings = (found.frequency > 6) & (found.frequency < 60)
    off = (found.radial_power - truth(found.frequency)) / found.radial_error
    assert np.abs(off[rings]).max() < 4
    # 1 %: half of what a cell's width bends the spectrum, and the rings' own noise.
    assert np.abs(found.radial_power / truth(found.frequency) - 1)[rings].mean() < 0.02


def test_agrees_with_a_general_purpose_periodogram():
    """scipy.signal.periodogram along rows, then along columns, summed to the same variance."""
    field, _ = field_of("exponential")
    columns, across = signal.periodogram(field - field.mean(), 1000 / PITCH, axis=1, detrend=False)
    variance = float(across.mean(axis=0).sum() * (columns[1] - columns[0])) / math.log(10) ** 2
    found = noise_power_spectrum(field, (PITCH, PITCH), Surface(ONE, *field.shape), everything(field.shape))
    assert found.variance == pytest.approx(variance, rel=1e-3)


def test_covariance_against_plain_counting():
    """Every distance counted pair by pair on a small patch with gaps, one that is cut into several parts."""
    generator = np.random.default_rng(3)
    field = (1 + 0.1 * generator.standard_normal((120, 136))).astype(np.float32)
    clean = generator.random((30, 34)) > 0.2
    covariance, pairs = pixel_covariance(field, Surface(ONE, *field.shape), clean)
    mask = np.repeat(np.repeat(clean, BLOCK, 0), BLOCK, 1)
    departure = np.where(mask, field - 1.0, 0)
    mean = departure.sum() / mask.sum()
    for dy, dx in ((0, 0), (0, 1), (5, -7), (32, 31), (-3, 2)):
        a = (slice(max(0, dy), 120 + min(0, dy)), slice(max(0, dx), 136 + min(0, dx)))
        b = (slice(max(0, -dy), 120 + min(0, -dy)), slice(max(0, -dx), 136 + min(0, -dx)))
        count = np.count_nonzero(mask[a] & mask[b])
        assert pairs[32 + dy, 32 + dx] == count
        expected = float((departure[a] * departure[b]).sum()) / count - mean**2
        assert covariance[32 + dy, 32 + dx] == pytest.approx(expected, abs=1e-6)


def test_long_pictures_are_cut_without_loss():
    """Longer than one part each way; only pairs across the cuts are missing."""
    field, _ = field_of("two scales", (1000, 560))
    covariance, pairs = pixel_covariance(field, Surface(ONE, *field.shape), everything(field.shape))
    assert pairs[32, 32] == 1000 * 560
    assert covariance[32, 32] == pytest.approx(float(field.var()), rel=1e-4)


def test_a_ramp_would_triple_the_deviation_and_comes_off():
    """sd .020 on a ramp of .001 a pixel over 200 pixels: .061 as it stands, .020 without the surface."""
    generator = np.random.default_rng(8)
    level = 1 + 0.001 * (np.arange(200) - 99.5)
    field = level + 0.020 * generator.standard_normal((200, 200))
    assert field.std() == pytest.approx(0.061, abs=0.001)
    surface = fit_surface(block_statistics(field), field.shape)
    rest = field - surface.at(np.arange(200), np.arange(200))
    assert rest.std() == pytest.approx(0.020, rel=0.02)  # 40,000 pixels: 0.35 %


def test_surface_of_second_order_is_met_exactly():
    y, x = np.mgrid[:160, :240] / 200
    field = 0.3 + 0.05 * x - 0.02 * y + 0.03 * x * y + 0.01 * x**2 - 0.04 * y**2
    surface = fit_surface(block_statistics(field), field.shape)
    # Block means of a parabola stand above its middle by 1e-6 here; the rest is single precision.
    assert surface.at(np.arange(160), np.arange(240)) == pytest.approx(field, abs=2e-6)


def test_dust_is_found_and_clean_grain_is_not():
    field, _ = field_of("two scales")
    dusty = field.copy()
    y, x = np.ogrid[:400, :360]
    dusty[np.hypot(y - 200, x - 100) < 4] *= 0.5
    dusty[np.abs(y - 0.5 * x - 20).repeat(1, 0) < 1.5] *= 0.7  # a hair
    for picture, least, most in ((field, 0.0, 0.005), (dusty, 0.015, 0.08)):
        blocks = block_statistics(picture)
        surface = fit_surface(blocks, picture.shape)
        left_out = 1 - clean_blocks(picture, blocks, surface).mean()
        assert least <= left_out <= most


def test_too_little_clean_gives_no_spectrum():
    field, _ = field_of("white", (80, 80))
    nothing = np.zeros((20, 20), dtype=bool)
    assert noise_power_spectrum(field, (PITCH, PITCH), Surface(ONE, 80, 80), nothing) is None
