"""Noise power spectrum of a patch of even tone, in one and two dimensions.

The covariance of pixel pairs is averaged over the patch for all distances up to 32 pixels, counting only
pairs of clean pixels, so that dust leaves gaps and no error; its transform is the spectrum. The integral
of the spectrum over the band is then the variance of the pixels, exactly. Work is done in relative
transmittance, and stated in density (1/ln 10 of it), which is what small departures of density are.

References
----------
Definition W(u, v) = <|FFT(D - mean)|^2> a_x a_y / (N_x N_y): IAEA, Diagnostic Radiology Physics (2014),
eq. 4.42. Transform of a windowed covariance: Blackman & Tukey, The Measurement of Power Spectra (1958).
"""

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy import fft

from scans.imaging.detrend import BLOCK, Surface

LAGS = 32  # pixels; 200 um at 4000 pixels an inch, four times the aperture
LONGEST_PART = 480  # pixels along a side; its transforms stay in the processor's cache


@dataclass(frozen=True, slots=True)
class NoisePower:
    """Power of the grain at each spatial frequency, the scanner's blur and noise still in it.

    Parameters
    ----------
    frequency_y, frequency_x : ndarray, shape (n,) [cycles/mm]
        Rising, from minus Nyquist.
    power : ndarray, shape (n, n) [density^2 um^2]
        Two-dimensional spectrum; single values may be slightly negative, being estimates.
    frequency : ndarray, shape (k,) [cycles/mm]
        Middles of the rings of the one-dimensional spectrum, up to the lower Nyquist frequency.
    radial_power, radial_error : ndarray, shape (k,) [density^2 um^2]
        Mean over each ring and its standard error.
    variance : float, scalar [density^2]
        Variance of the pixels: the integral of ``power`` over the band.
    area_mm2 : float, scalar [mm^2]
        Clean area that was averaged.
    """

    frequency_y: np.ndarray
    frequency_x: np.ndarray
    power: np.ndarray
    frequency: np.ndarray
    radial_power: np.ndarray
    radial_error: np.ndarray
    variance: float
    area_mm2: float

    def to_dict(self) -> dict:
        """The one-dimensional spectrum and its scale, as plain JSON values."""
        return {
            "frequency_cycles_per_mm": self.frequency.tolist(),
            "power_um2": self.radial_power.tolist(),
            "power_error_um2": self.radial_error.tolist(),
            "pixel_variance": self.variance,
            "area_mm2": self.area_mm2,
        }


def noise_power_spectrum(
    samples, pitch_um: tuple[float, float], surface: Surface, clean: np.ndarray
) -> NoisePower | None:
    """The spectrum of a patch about its smooth surface.

    Parameters
    ----------
    samples : array_like, shape (rows, columns) [transmittance]
        The patch.
    pitch_um : tuple of float, scalar (y, x) [um]
        Distance of rows and of columns.
    surface : Surface
        The slow change of light, to divide by.
    clean : ndarray of bool, shape (rows, columns) of 4 x 4 blocks
        Blocks that count.

    Returns
    -------
    NoisePower or None
        None when so little is clean that some distance of pixels has fewer than 2,000 pairs.
    """
    covariance, pairs = pixel_covariance(np.asarray(samples), surface, clean)
    if pairs.min() < 2000:
        return None
    covariance /= math.log(10) ** 2
    window = _flat_topped(LAGS)
    cell = pitch_um[0] * pitch_um[1]
    windowed = (covariance * window[:, None] * window)[:-1, :-1]
    power = fft.fftshift(fft.fft2(fft.ifftshift(windowed)).real) * cell
    y, x = (fft.fftshift(fft.fftfreq(2 * LAGS, pitch / 1000)) for pitch in pitch_um)
    area = float(np.count_nonzero(clean)) * BLOCK**2 * cell / 1e6
    # A patch resolves 1/area of the frequency plane: so many of its own values lie in each cell here.
    averaged = area * 1e6 / (cell * (2 * LAGS) ** 2)
    return NoisePower(y, x, power, *_rings(y, x, power, averaged), float(covariance[LAGS, LAGS]), area)


def pixel_covariance(samples: np.ndarray, surface: Surface, clean: np.ndarray):
    """Covariance of pixel pairs at each distance up to 32 pixels.

    Parameters
    ----------
    samples : ndarray, shape (rows, columns) [transmittance]
    surface : Surface
        To divide by.
    clean : ndarray of bool, shape (rows, columns) of blocks
        Blocks that count.

    Returns
    -------
    covariance : ndarray, shape (65, 65) [relative transmittance squared]
        Of distances -32 to 32 rows and columns.
    pairs : ndarray, shape (65, 65) [pairs]
        How many were averaged.
    """
    rows, columns = (_parts(count) for count in clean.shape)
    longest = [max(int(np.diff(edges).max()), 1) for edges in (rows, columns)]
    size = tuple(fft.next_fast_len(n * BLOCK + LAGS, real=True) for n in longest)
    power = np.zeros((size[0], size[1] // 2 + 1))
    reach = LAGS // BLOCK + 1
    block_size = tuple(fft.next_fast_len(n + reach, real=True) for n in longest)
    block_power = np.zeros((block_size[0], block_size[1] // 2 + 1))
    total = 0.0
    for top, bottom in pairwise(rows):
        for left, right in pairwise(columns):
            part = clean[top:bottom, left:right]
            departure = _departure(samples, surface, part, top, left)
            total += float(departure.sum(dtype=np.float64))
            power += _squared(fft.rfft2(departure, size))
            block_power += _squared(fft.rfft2(part.astype(np.float64), block_size))
    sums = _central(fft.irfft2(power, size), LAGS)
    blocks = np.round(_central(fft.irfft2(block_power, block_size), reach))
    spread = _pixels_of_blocks(reach)
    pairs = spread @ blocks @ spread.T
    mean = total / max(pairs[LAGS, LAGS], 1)
    return sums / np.maximum(pairs, 1) - mean**2, pairs


def _parts(count: int) -> np.ndarray:
    """Edges that cut so many blocks into equal parts of at most the longest."""
    parts = max(1, math.ceil(count * BLOCK / LONGEST_PART))
    return np.linspace(0, count, parts + 1).astype(int)


def _departure(samples, surface: Surface, part: np.ndarray, top: int, left: int) -> np.ndarray:
    """Relative departure from the surface; zero where the block is not clean."""
    rows = np.arange(top * BLOCK, (top + part.shape[0]) * BLOCK)
    columns = np.arange(left * BLOCK, (left + part.shape[1]) * BLOCK)
    departure = samples[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1] / surface.at(rows, columns)
    departure -= 1
    if not part.all():
        departure[~np.repeat(np.repeat(part, BLOCK, 0), BLOCK, 1)] = 0
    return departure


def _squared(transform: np.ndarray) -> np.ndarray:
    return transform.real**2 + transform.imag**2


def _central(cyclic: np.ndarray, reach: int) -> np.ndarray:
    """Distances -reach to reach out of a cyclic covariance."""
    lags = np.arange(-reach, reach + 1)
    return cyclic[np.ix_(lags, lags)].astype(float)


def _pixels_of_blocks(reach: int) -> np.ndarray:
    """Pixel pairs at a distance out of block pairs: exactly linear between whole blocks, along each side."""
    pixels = np.arange(-LAGS, LAGS + 1)[:, None]
    blocks = np.arange(-reach, reach + 1)[None, :] * BLOCK
    return np.maximum(BLOCK - np.abs(pixels - blocks), 0.0)


def _flat_topped(lags: int) -> np.ndarray:
    """Weight of a distance: one up to half the reach, then falling as a cosine to zero."""
    beyond = np.clip(2 * np.abs(np.arange(-lags, lags + 1)) / lags - 1, 0, 1)
    return (1 + np.cos(np.pi * beyond)) / 2


def _rings(y: np.ndarray, x: np.ndarray, power: np.ndarray, averaged: float):
    """Mean of the spectrum over rings as wide as a cell, and the standard error of each."""
    radius = np.hypot(y[:, None], x)
    width = max(y[1] - y[0], x[1] - x[0])
    ring = np.floor(radius / width + 0.5).astype(int)
    count = int(min(-y[0], -x[0]) / width) + 1
    inside = ring < count
    cells = np.bincount(ring[inside], minlength=count)
    mean = np.bincount(ring[inside], power[inside], minlength=count) / cells
    frequency = np.bincount(ring[inside], radius[inside], minlength=count) / cells
    # Half the cells of a ring are the mirror of the other half.
    independent = np.maximum(averaged * cells / 2, 1)
    return frequency, mean, np.abs(mean) / np.sqrt(independent)
