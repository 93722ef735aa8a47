"""Dust, hair and scratches on a patch of even tone, found at three scales and left out.

A pixel, a block of 4 x 4 or a square of 12 x 12 pixels that lies further than 4.5 robust standard
deviations off the smooth surface marks its block; the blocks around it, where the blur of the scanner
spreads the speck, are left out too. Coarse grain is skewed: its transmittance is spread nearly as a gamma
distribution, whose cube root is nearly normal (Wilson & Hilferty 1931); scanner noise is not skewed. Limits
are set in transmittance and in its cube root, and the wider ones hold.
Leaving out also takes a few honest extremes and so makes the rest look a little too even:
`truncation_factor` is the correction.
"""

import math

import numpy as np
from scipy import ndimage
from scipy.special import ndtr

from scans.imaging.detrend import BLOCK, Blocks, Surface, robust_limits

THRESHOLD = 4.5  # robust standard deviations
WIDE = 3  # blocks along a side of the widest scale


def truncation_factor(threshold: float) -> float:
    """Standard deviation of a Gaussian cut at plus and minus a threshold, over that of the whole.

    Parameters
    ----------
    threshold : float, scalar [standard deviations]
        Where both tails are cut, above zero.

    Returns
    -------
    factor : float, scalar [1]
        Divide the standard deviation of what is left by it.

    Examples
    --------
    >>> round(truncation_factor(3.0), 5)
    0.98658
    """
    density = math.exp(-(threshold**2) / 2) / math.sqrt(2 * math.pi)
    inside = 2 * float(ndtr(threshold)) - 1
    return math.sqrt(1 - 2 * threshold * density / inside)


def clean_blocks(samples, blocks: Blocks, surface: Surface, threshold: float = THRESHOLD) -> np.ndarray:
    """Which blocks of 4 x 4 pixels are free of dust.

    Parameters
    ----------
    samples : array_like, shape (rows, columns) [any unit]
        The patch.
    blocks : Blocks
        Its block statistics.
    surface : Surface
        Its slow change of light.
    threshold : float, scalar [standard deviations]
        How far off the surface counts as dust.

    Returns
    -------
    clean : ndarray of bool, shape (rows, columns) of blocks
        False for dust, its surroundings of one block, and blocks with pixels that are not finite.
    """
    usable = np.isfinite(blocks.mean)
    if not usable.any():
        return usable
    level = surface.at_blocks()
    low, high = _limits(_some_pixels(samples, surface), threshold)
    marked = (blocks.lowest < low * level) | (blocks.highest > high * level)
    ratio = blocks.mean / level
    marked |= _outside(ratio, _limits(ratio[usable], threshold))
    wide = ndimage.uniform_filter(np.where(usable, ratio, 1), WIDE, mode="nearest")
    marked |= _outside(wide, _limits(wide[usable], threshold))
    marked &= usable
    # One block around: the edge of a speck is blurred, and too faint to be found by itself.
    marked = ndimage.binary_dilation(marked, structure=np.ones((3, 3), dtype=bool))
    return usable & ~marked


def _limits(ratio: np.ndarray, threshold: float) -> tuple[float, float]:
    low, high = robust_limits(ratio, threshold)
    low_root, high_root = robust_limits(np.cbrt(ratio), threshold)
    return min(low, low_root**3), max(high, high_root**3)


def _outside(values: np.ndarray, limits: tuple[float, float]) -> np.ndarray:
    return (values < limits[0]) | (values > limits[1])


def _some_pixels(samples, surface: Surface) -> np.ndarray:
    """About 200,000 pixels over the surface, taken evenly from the whole patch."""
    samples = np.asarray(samples)
    step = max(1, round(math.sqrt(samples.size / 200_000)))
    # A step that divides the block would always look at the same corner of it.
    step += step > 1 and step % BLOCK == 0
    rows, columns = np.arange(0, samples.shape[0], step), np.arange(0, samples.shape[1], step)
    some = samples[::step, ::step] / surface.at(rows, columns)
    return some[np.isfinite(some)]
