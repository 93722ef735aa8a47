"""Slanted edges of known MTF: Gaussian blur, exactly, with halation, tilted light and noise if wanted.

A straight edge blurred by a Gaussian of standard deviation s is a normal distribution function of the
distance over s, point by point; its MTF is exp(-2 (pi s f)^2), half at 0.187391 / s.
"""

import math

import numpy as np
from scipy.special import ndtr

MTF50_TIMES_BLUR = math.sqrt(math.log(2) / 2) / math.pi
"""0.187391: frequency of half modulation times the standard deviation of a Gaussian blur."""


def gaussian_edge(
    shape: tuple[int, int],
    blur_px: float,
    angle_degrees: float,
    *,
    levels: tuple[float, float] = (0.05, 0.5),
    offset_px: float = 0.0,
    halation: tuple[float, float] = (0.0, 1.0),
    light_slope: float = 0.0,
    noise_sd: float = 0.0,
    generator: np.random.Generator | None = None,
) -> np.ndarray:
    """A nearly upright edge through the middle of the picture.

    Parameters
    ----------
    shape : tuple of int, scalar [pixels]
        Rows and columns.
    blur_px : float, scalar [pixels]
        Standard deviation of the blur across the edge.
    angle_degrees : float, scalar [degrees]
        From upright.
    levels : tuple of float, scalar [transmittance]
        Left and right of the edge.
    offset_px : float, scalar [pixels]
        Shift along the row.
    halation : tuple of float, scalar ([1], [pixels])
        Part of the light that is scattered, and the length over which its line spread falls by e.
    light_slope : float, scalar [1]
        Relative change of light over the width.
    noise_sd : float, scalar [transmittance]
        White noise a pixel.
    generator : numpy.random.Generator, optional
        For the noise.

    Returns
    -------
    picture : ndarray, shape (rows, columns) [transmittance]
    """
    angle = math.radians(angle_degrees)
    y, x = np.ogrid[: shape[0], : shape[1]]
    x = x - (shape[1] - 1) / 2
    across = (x - offset_px - (y - (shape[0] - 1) / 2) * math.tan(angle)) * math.cos(angle)
    share, length = halation
    spread = ndtr(across / blur_px)
    if share:
        spread = (1 - share) * spread + share * _two_sided_exponential(across, length, blur_px)
    picture = (levels[0] + (levels[1] - levels[0]) * spread) * (1 + light_slope * x / shape[1])
    if noise_sd:
        picture = picture + noise_sd * generator.standard_normal(shape)
    return picture


def edge_mtf(frequency, blur_px: float, halation: tuple[float, float] = (0.0, 1.0)) -> np.ndarray:
    """MTF across `gaussian_edge`.

    Parameters
    ----------
    frequency : array_like, any shape [cycles/pixel]
    blur_px : float, scalar [pixels]
    halation : tuple of float, scalar ([1], [pixels])
        As in `gaussian_edge`.

    Returns
    -------
    mtf : ndarray, same shape [1]
    """
    frequency = np.asarray(frequency, dtype=float)
    share, length = halation
    tail = 1 / (1 + (2 * np.pi * length * frequency) ** 2)
    return np.exp(-2 * (np.pi * blur_px * frequency) ** 2) * (1 - share + share * tail)


def _two_sided_exponential(across, length: float, blur: float) -> np.ndarray:
    """Distribution function of a two-sided exponential of that length, blurred by a Gaussian."""
    lift = (blur / length) ** 2 / 2
    falling = np.exp(lift - across / length) * ndtr(across / blur - blur / length)
    rising = np.exp(lift + across / length) * ndtr(-across / blur - blur / length)
    return ndtr(across / blur) - (falling - rising) / 2
