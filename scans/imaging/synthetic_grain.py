"""Grain of known truth: Gaussian fields with a given noise power spectrum, and random opaque dots.

Spectra are functions of the radial frequency in cycles/mm and give density squared times um2. Fields are
relative transmittance T/mean(T): a small density departure d reads 1 - ln(10) d.

References
----------
Random opaque dots are the Boolean model: the covariance of its uncovered part is
q^2 (exp(rate * overlap) - 1) with q the uncovered fraction; Matheron, G., Random Sets and Integral
Geometry (1975), from memory, and simulated in the tests.
"""

import math
from collections.abc import Callable

import numpy as np
from scipy import fft

from scans.imaging.aperture import APERTURE_UM, aperture_area, aperture_transfer, circle_overlap

LN10 = math.log(10)
NEGLIGIBLE = 1e-8
"""What a blur leaves of an alias's power, below which it is not drawn [1]."""
Spectrum = Callable[[np.ndarray], np.ndarray]


def white(frequency):
    """The same power at every frequency, any shape [relative]."""
    return np.ones_like(np.asarray(frequency, dtype=float))


def two_scale(frequency):
    """Fine grain of 2 um and clumps of 8 um (correlation lengths), any shape [relative]."""
    cycles_um = np.asarray(frequency, dtype=float) / 1000
    return np.exp(-((2 * math.pi * 2 * cycles_um) ** 2)) + 0.8 * np.exp(-((2 * math.pi * 8 * cycles_um) ** 2))


def exponential(frequency):
    """Covariance that falls exponentially, by e in 3 um, any shape [relative]."""
    return (1 + (2 * math.pi * 3 * np.asarray(frequency, dtype=float) / 1000) ** 2) ** -1.5


def disc(frequency):
    """Overlapping discs of 6 um, any shape [relative]; the power has zeros."""
    return aperture_transfer(frequency, 6.0) ** 2


SPECTRA: dict[str, Spectrum] = {
    "white": white,
    "two scales": two_scale,
    "exponential": exponential,
    "discs": disc,
}


def scaled_spectrum(spectrum: Spectrum, rms_granularity: float, aperture_um: float = APERTURE_UM) -> Spectrum:
    """A spectrum scaled to a stated RMS granularity.

    Parameters
    ----------
    spectrum : callable
        Relative power of frequency.
    rms_granularity : float, scalar [1000 x density]
        What a perfect instrument reads through the aperture.
    aperture_um : float, scalar [um]
        Diameter of the aperture.

    Returns
    -------
    callable
        Power [density^2 um^2] of frequency [cycles/mm].
    """
    frequency = np.linspace(0, 4000, 400_001)
    seen = spectrum(frequency) * aperture_transfer(frequency, aperture_um) ** 2 * 2 * np.pi * frequency
    variance = float(np.trapezoid(seen, frequency)) / 1e6  # per um2
    # What lies beyond 4000 cycles/mm: the mean square of the transfer falls as 4 / (pi**4 d**3 f**3).
    diameter = aperture_um / 1000
    variance += float(spectrum(np.array([4000.0]))[0]) * 8 / (math.pi**3 * diameter**3 * 4000) / 1e6
    factor = (rms_granularity / 1000) ** 2 / variance
    return lambda frequency: factor * spectrum(frequency)


def grain_field(
    shape: tuple[int, int],
    pitch_um: float,
    spectrum: Spectrum,
    generator: np.random.Generator,
    *,
    blur_um: float = 0.0,
    noise_sd: float = 0.0,
) -> np.ndarray:
    """A Gaussian field as a scanner sees it: blurred, sampled (with its aliases), with white noise.

    Parameters
    ----------
    shape : tuple of int, scalar [pixels]
        Rows and columns.
    pitch_um : float, scalar [um]
        Distance of the samples.
    spectrum : callable
        Power [density^2 um^2] of frequency [cycles/mm].
    generator : numpy.random.Generator
    blur_um : float, scalar [um]
        Standard deviation of the scanner's Gaussian blur.
    noise_sd : float, scalar [relative transmittance]
        The scanner's noise a pixel.

    Returns
    -------
    field : ndarray of float32, shape (rows, columns) [relative transmittance]
        Mean 1. Not periodic: cut out of a larger one.
    """
    size = [fft.next_fast_len(n + 96, real=True) for n in shape]
    v = fft.fftfreq(size[0], pitch_um / 1000)[:, None]
    u = fft.rfftfreq(size[1], pitch_um / 1000)[None, :]
    sampling = 1000 / pitch_um
    # Without a blur, aliases of a point-sampled field have no end; then the band is all there is.
    aliases = range(-2, 3) if blur_um else range(1)
    power = np.zeros(np.broadcast_shapes(v.shape, u.shape))
    for i in aliases:
        for j in aliases:
            nearest = sampling * math.hypot(*(max(abs(each) - 0.5, 0) for each in (i, j)))
            if math.exp(-4 * (math.pi * blur_um * nearest / 1000) ** 2) < NEGLIGIBLE:
                continue
            frequency = np.hypot(v + i * sampling, u + j * sampling)
            mtf = np.exp(-2 * (np.pi * blur_um * frequency / 1000) ** 2)
            power += spectrum(frequency) * mtf**2
    draw = fft.rfft2(generator.standard_normal(size, dtype=np.float32))
    draw *= np.sqrt(power / pitch_um**2).astype(np.float32)
    field = fft.irfft2(draw, size)[: shape[0], : shape[1]]
    noise = noise_sd * generator.standard_normal(shape, dtype=np.float32) if noise_sd else 0
    return (1 + LN10 * field + noise).astype(np.float32)


def dot_field(
    shape: tuple[int, int],
    pitch_um: float,
    dot_um: float,
    density: float,
    generator: np.random.Generator,
    *,
    blur_um: float = 0.0,
    oversampling: int = 8,
) -> np.ndarray:
    """Opaque round dots thrown at random, as a scanner with a Gaussian blur sees them.

    Parameters
    ----------
    shape : tuple of int, scalar [pixels]
        Rows and columns.
    pitch_um, dot_um : float, scalar [um]
        Distance of the samples; diameter of the dots.
    density : float, scalar [density]
        Mean density.
    generator : numpy.random.Generator
    blur_um : float, scalar [um]
        Standard deviation of the scanner's blur.
    oversampling : int, scalar [1]
        Points along a pixel's side.

    Returns
    -------
    field : ndarray of float32, shape (rows, columns) [transmittance]
    """
    fine_um = pitch_um / oversampling
    margin = math.ceil((4 * blur_um + dot_um) / pitch_um)
    size = [fft.next_fast_len((n + 2 * margin) * oversampling, real=True) for n in shape]
    v, u = (fft.fftfreq(n, 1 / n) for n in size)
    dot = (np.hypot(v[:, None], u) * fine_um <= dot_um / 2).astype(np.float32)
    # Dots a point of the drawing, so that the mean density is exact for the dot as drawn.
    centres = generator.poisson(density * LN10 / float(dot.sum()), size).astype(np.float32)
    covers = fft.irfft2(fft.rfft2(centres) * fft.rfft2(dot), size)
    clear = (covers < 0.5).astype(np.float32)
    f = np.hypot(fft.fftfreq(size[0], fine_um)[:, None], fft.rfftfreq(size[1], fine_um)[None, :])
    seen = fft.irfft2(fft.rfft2(clear) * np.exp(-2 * (np.pi * blur_um * f) ** 2).astype(np.float32), size)
    start = margin * oversampling
    rows, columns = (slice(start, start + n * oversampling, oversampling) for n in shape)
    return seen[rows, columns].astype(np.float32)


def dot_granularity(dot_um: float, density: float, aperture_um: float = APERTURE_UM) -> float:
    """RMS granularity of random opaque round dots, exactly.

    Parameters
    ----------
    dot_um : float, scalar [um]
        Diameter of the dots.
    density : float, scalar [density]
        Mean density.
    aperture_um : float, scalar [um]
        Diameter of the aperture.

    Returns
    -------
    granularity : float, scalar [1000 x density]
        1000 / ln(10) times the relative standard deviation of the aperture's transmittance.
    """
    distance = np.linspace(0, dot_um, 20_001)
    area = math.pi * dot_um**2 / 4
    covariance = np.expm1(density * LN10 / area * circle_overlap(distance, dot_um))
    seen = circle_overlap(distance, aperture_um) / aperture_area(aperture_um) ** 2
    variance = float(np.trapezoid(covariance * seen * 2 * np.pi * distance, distance))
    return 1000 * math.sqrt(variance) / LN10


def drawn_dot_granularity(
    dot_um: float, density: float, pitch_um: float, oversampling: int = 8, aperture_um: float = APERTURE_UM
) -> float:
    """RMS granularity of `dot_field`, exactly: its dots are made of points, so their overlaps are counted.

    Parameters
    ----------
    dot_um : float, scalar [um]
    density : float, scalar [density]
    pitch_um : float, scalar [um]
    oversampling : int, scalar [1]
        As in `dot_field`.
    aperture_um : float, scalar [um]
        Diameter of the aperture.

    Returns
    -------
    granularity : float, scalar [1000 x density]
    """
    fine_um = pitch_um / oversampling
    reach = math.ceil(dot_um / fine_um)
    points = np.arange(-reach, reach + 1)
    dot = np.hypot(points[:, None], points) * fine_um <= dot_um / 2
    whole = 2 * (2 * points.size - 1,)
    overlap = np.round(fft.fftshift(fft.irfft2(np.abs(fft.rfft2(dot.astype(float), whole)) ** 2, whole)))
    distance = np.arange(-2 * reach, 2 * reach + 1) * fine_um
    covariance = np.expm1(density * LN10 / dot.sum() * overlap)
    seen = circle_overlap(np.hypot(distance[:, None], distance), aperture_um)
    variance = float(np.sum(covariance * seen)) * (fine_um / aperture_area(aperture_um)) ** 2
    return 1000 * math.sqrt(variance) / LN10
