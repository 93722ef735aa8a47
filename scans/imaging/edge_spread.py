"""From the pixels around an edge to its spread function and its MTF.

Pixels are gathered by their distance from the edge in bins of an eighth of a pixel, half the standard's,
so that odd angles leave no ripple. Within a bin they do not lie evenly, so the spread at each bin's middle
is taken from a cubic spline through the means where they are. The derivative is the central difference
[-1/2, 0, 1/2]; its gain on the fine grid, sin(2 pi f b) / (2 pi f b) for a bin of width b, is divided out,
as is the averaging over a bin by its second moment.

References
----------
ISO 12233:2014, 6.2. Its printed correction belongs to the difference of two neighbours; for the central
difference the argument is twice that: 1.1107 at the pixel's Nyquist frequency with bins of a quarter pixel.
"""

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicSpline

BINS_PER_PIXEL = 8
BANDS = 10  # of rows; each is left out in turn to see how far the result scatters
LARGEST_CORRECTION = 10.0
NEAR = 8  # pixels from the edge, where most of its spread lies
FADE = 0.25  # of the window's half width, over which it falls to zero


@dataclass(frozen=True, slots=True)
class BinSums:
    """Sums over the pixels of each band of rows and each bin of distance.

    Parameters
    ----------
    count, distance, square, value : ndarray, shape (bands, bins) [pixels], [bins], [bins squared], [1]
        Number, and sums of the distance from the edge, its square, and of the value.
    """

    count: np.ndarray
    distance: np.ndarray
    square: np.ndarray
    value: np.ndarray

    def without(self, band: int | None) -> "BinSums":
        """The sums of all bands together, or of all but one, shape (1, bins) each [as above]."""
        kept = np.arange(self.count.shape[0]) != (-1 if band is None else band)
        each = (self.count, self.distance, self.square, self.value)
        return BinSums(*(sums[kept].sum(axis=0, keepdims=True) for sums in each))


def bin_pixels(across: np.ndarray, values: np.ndarray, reach_px: float) -> BinSums:
    """Sum pixels by band of rows and by distance from the edge.

    Parameters
    ----------
    across : ndarray, shape (rows, n) [pixels]
        Distance from the edge, at right angles to it.
    values : ndarray, shape (rows, n) [1]
        Levels, 0 on the dark side and 1 on the bright one.
    reach_px : float, scalar [pixels]
        Farthest distance on either side.

    Returns
    -------
    BinSums
    """
    half = int(np.ceil(reach_px * BINS_PER_PIXEL))
    bins = 2 * half + 1
    scaled = across * BINS_PER_PIXEL
    nearest = np.rint(scaled).astype(np.int64)
    inside = np.abs(nearest) <= half
    bands = min(BANDS, across.shape[0])
    band = np.arange(across.shape[0]) * bands // across.shape[0]
    index = (band[:, None] * bins + nearest + half)[inside]
    scaled = scaled[inside]
    sums = [
        np.bincount(index, weights, minlength=bands * bins).reshape(bands, bins)
        for weights in (None, scaled, scaled**2, values[inside])
    ]
    return BinSums(*sums)


def edge_spread(sums: BinSums) -> tuple[np.ndarray, float, float]:
    """The edge spread function at the middles of the bins.

    Parameters
    ----------
    sums : BinSums
        Of one band, or of several together.

    Returns
    -------
    spread : ndarray, shape (bins,) [1]
    scatter : float, scalar [bins squared]
        Mean square distance of the pixels of a bin from their own mean: what the averaging blurs.
    widest_gap : float, scalar [pixels]
        Between neighbouring means, near the edge.
    """
    total = sums.without(None)
    bins = total.count.shape[1]
    middle = bins // 2
    filled = np.flatnonzero(total.count[0])
    place = total.distance[0, filled] / total.count[0, filled]
    # Bins whose pixels all but touch those of the next, as at rational angles, are taken as one.
    group = np.cumsum(np.r_[0, np.diff(place) > 0.5])
    count, distance, square, value = (
        np.bincount(group, each[0, filled])
        for each in (total.count, total.distance, total.square, total.value)
    )
    place = distance / count
    near = np.abs(place) <= NEAR * BINS_PER_PIXEL
    scatter = float(np.mean((square / count - place**2)[near]))
    gap = float(np.diff(place[near]).max()) / BINS_PER_PIXEL
    centres = np.clip(np.arange(bins) - middle, place[0], place[-1])
    return CubicSpline(place, value / count)(centres), scatter, gap


def modulation(spread: np.ndarray, scatter: np.ndarray, half_px: float, frequency: np.ndarray) -> np.ndarray:
    """MTFs out of edge spread functions.

    Parameters
    ----------
    spread : ndarray, shape (m, bins) [1]
        At the middles of the bins, the edge in the middle.
    scatter : ndarray, shape (m,) [bins squared]
        As from `edge_spread`.
    half_px : float, scalar [pixels]
        Half width of the window on the line spread function; its ends fade.
    frequency : ndarray, shape (k,) [cycles/pixel]
        Across the edge.

    Returns
    -------
    mtf : ndarray, shape (m, k) [1]
        One at zero; not clipped above it, for an edge effect is real.
    """
    line = (spread[:, 2:] - spread[:, :-2]) / 2
    at = (np.arange(line.shape[1]) - line.shape[1] // 2) / BINS_PER_PIXEL
    beyond = np.clip((np.abs(at) / half_px - (1 - FADE)) / FADE, 0, 1)
    line *= (1 + np.cos(np.pi * beyond)) / 2
    transform = line @ np.exp(-2j * np.pi * np.outer(at, frequency))
    averaging = np.exp(-((2 * np.pi * frequency / BINS_PER_PIXEL) ** 2) * scatter[:, None] / 2)
    gain = np.maximum(difference_gain(frequency) * averaging, 1 / LARGEST_CORRECTION)
    return np.abs(transform) / np.abs(line.sum(axis=1))[:, None] / gain


def difference_gain(frequency, bins_per_pixel: int = BINS_PER_PIXEL) -> np.ndarray:
    """What the central difference leaves of a true derivative.

    Parameters
    ----------
    frequency : array_like, shape (k,) [cycles/pixel]
    bins_per_pixel : int, scalar [1]

    Returns
    -------
    gain : ndarray, shape (k,) [1]
        sin(2 pi f b) / (2 pi f b) for bins of width b.
    """
    return np.sinc(2 * np.asarray(frequency, dtype=float) / bins_per_pixel)


def first_crossing(frequency: np.ndarray, mtf: np.ndarray, level: float) -> float | None:
    """The first frequency at which the MTF falls through a level.

    Parameters
    ----------
    frequency, mtf : ndarray, shape (k,) [any unit], [1]
        NaN ends the curve.
    level : float, scalar [1]

    Returns
    -------
    crossing : float or None, scalar [unit of frequency]
        None when the curve ends before.
    """
    with np.errstate(invalid="ignore"):
        below = np.flatnonzero(mtf < level)
    unknown = np.flatnonzero(np.isnan(mtf))
    if not below.size or (unknown.size and unknown[0] < below[0]) or below[0] == 0:
        return None
    i = below[0]
    part = (mtf[i - 1] - level) / (mtf[i - 1] - mtf[i])
    return float(frequency[i - 1] + part * (frequency[i] - frequency[i - 1]))
