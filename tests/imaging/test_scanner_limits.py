"""What the scanner adds and takes away: from trials to limits, kept and read back."""

import json

import numpy as np
import pytest

from scans.imaging.grain import measure_patch
from scans.imaging.measures import ImagingError
from scans.imaging.scanner_limits import ScannerLimits
from scans.imaging.scanner_trials import limits_from_trials, repeat_noise
from scans.imaging.sharpness import measure_edge
from scans.imaging.synthetic_edge import gaussian_edge
from scans.imaging.synthetic_grain import SPECTRA, grain_field, scaled_spectrum

PITCH = 6.35
PPI = (4000, 4000)


def scanned_twice(side=320, noise=0.001, seed=1):
    """The same grain at density 1 with two draws of noise, and a drift of light between them."""
    generator = np.random.default_rng(seed)
    spectrum = scaled_spectrum(SPECTRA["two scales"], 10.0)
    grain = 0.1 * grain_field((side, side), PITCH, spectrum, generator, blur_um=0.6 * PITCH)
    drift = np.linspace(1.0, 1.01, side)
    return tuple(grain * light + noise * generator.standard_normal((side, side)) for light in (1.0, drift))


def test_noise_of_two_scans():
    """1,600 squares know it to 1.8 %; three times that."""
    mean, noise, error = repeat_noise(*scanned_twice())
    assert mean == pytest.approx(0.1, rel=0.01)
    assert noise == pytest.approx(0.001, rel=0.055)
    assert error == pytest.approx(0.018, abs=0.001)


def test_noise_in_lines_counts_as_much_as_the_aperture_sees():
    """Each row its own offset: means over 8 x 8 fall by the root of 8 only, not by 8."""
    generator = np.random.default_rng(2)
    lines = [0.1 + 0.001 * np.repeat(generator.standard_normal((400, 1)), 400, 1) for _ in range(2)]
    assert repeat_noise(*lines)[1] > 2 * 0.001


def test_a_speck_that_moved_does_not_count():
    first, second = scanned_twice()
    second[100:110, 100:110] *= 0.3
    assert repeat_noise(first, second)[1] == pytest.approx(0.001, rel=0.055)


def test_whole_way_from_trials_to_granularity():
    """Noise from two scans and MTF from a sharp edge, then the grain of the first scan: 10."""
    generator = np.random.default_rng(3)
    edge = gaussian_edge((300, 300), 0.6, 5, noise_sd=0.001, generator=generator)
    pair = scanned_twice(side=472)
    limits = limits_from_trials([pair], measure_edge(edge, PPI))
    assert limits.width_error < 0.02
    found = measure_patch(pair[0], PPI, limits).rms_granularity
    assert found.low < 10 < found.high
    assert found.value == pytest.approx(10, rel=0.03)


def test_noise_is_interpolated_within_what_was_measured_and_not_beyond():
    limits = ScannerLimits((0.01, 0.1), (0.001, 0.003))
    assert limits.noise_at(0.055) == pytest.approx(0.002)
    assert limits.noise_at(0.12) == pytest.approx(0.003)  # within 0.1 in density of the last
    assert limits.noise_at(0.2) is None
    assert limits.noise_at(0.005) is None
    assert limits.noise_at(float("nan")) is None
    assert ScannerLimits().noise_at(0.1) is None


def test_gaussian_mtf():
    limits = ScannerLimits.gaussian(5.0)
    frequency = np.array([0.0, 20.0, 37.48, 60.0])
    expected = np.exp(-2 * (np.pi * 5 * frequency / 1000) ** 2)
    assert limits.mtf_at(frequency) == pytest.approx(expected, abs=1e-5)
    assert limits.mtf_at(frequency, width=1.1) == pytest.approx(expected**1.21, abs=1e-5)
    assert limits.mtf_at(1e6) == 0


def test_kept_and_read_back():
    limits = ScannerLimits.gaussian(5.0, 0.001)
    assert ScannerLimits.from_dict(json.loads(json.dumps(limits.to_dict()))) == limits
    for bad in ({"blur": 3}, {"mtf": "sharp"}, {"noise_sd": [1.0]}, []):
        with pytest.raises(ImagingError):
            ScannerLimits.from_dict(bad)


def test_trials_that_say_nothing_are_refused():
    with pytest.raises(ImagingError, match="same shape"):
        repeat_noise(np.ones((100, 100)), np.ones((100, 90)))
    with pytest.raises(ImagingError, match="8 x 8"):
        repeat_noise(*scanned_twice(side=64))
    with pytest.raises(ImagingError, match="few pixels"):
        repeat_noise(np.full((100, 100), np.nan), np.ones((100, 100)))
    with pytest.raises(ImagingError, match="half modulation"):
        limits_from_trials([], measure_edge(np.ones((100, 100)), PPI))
    with pytest.raises(ImagingError, match="starts at zero"):
        ScannerLimits((), (), (1.0, 2.0), (1.0, 0.5))
