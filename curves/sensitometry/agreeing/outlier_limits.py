"""Critical values of Cochran's and Grubbs' tests, computed and not typed.

References
----------
ISO 5725-2, 7.3 (from memory). Grubbs, F. E., Ann. Math. Statist. 21, 27 (1950): the distribution of the
largest deviation by recursion over the size of the sample, and that of two left out together, derived
again from it.
"""

import math
from functools import lru_cache

import numpy as np
from scipy.integrate import cumulative_simpson
from scipy.optimize import brentq
from scipy.special import fdtri, gammaln, stdtrit

from curves.sensitometry.measures import SensitometryError

STRAGGLER, OUTLIER = 0.05, 0.01
GRID = 1501
LARGEST_SAMPLE = 40  # as far as the standard tabulates; the recursion is good to four digits there


def cochran_critical(groups: int, size: float, alpha: float = STRAGGLER) -> float:
    """Critical value of the greatest variance over the sum of all.

    Parameters
    ----------
    groups : int, scalar [count]
        Members, at least two.
    size : float, scalar [readings]
        Readings of each, at least two; their mean where they differ.
    alpha : float, scalar [probability]
        Level.

    Returns
    -------
    float
        Scalar [1].

    Examples
    --------
    >>> round(cochran_critical(8, 3), 3), round(cochran_critical(8, 3, 0.01), 3)
    (0.516, 0.615)
    """
    if not (groups >= 2 and size >= 2 and 0 < alpha < 1):
        raise SensitometryError("IMPOSSIBLE_SIZE", "At least two members with two readings each are needed.")
    ratio = float(fdtri(size - 1, (groups - 1) * (size - 1), 1 - alpha / groups))
    return ratio / (ratio + groups - 1)


def grubbs_critical(size: int, alpha: float = STRAGGLER) -> float:
    """Critical value of the largest deviation from the mean over the standard deviation, either side.

    Parameters
    ----------
    size : int, scalar [count]
        Members, at least three.
    alpha : float, scalar [probability]
        Level of both sides together.

    Returns
    -------
    float
        Scalar [standard deviations].

    Examples
    --------
    >>> round(grubbs_critical(8), 3), round(grubbs_critical(8, 0.01), 3)
    (2.127, 2.274)
    """
    if not (size >= 3 and 0 < alpha < 1):
        raise SensitometryError("IMPOSSIBLE_SIZE", "At least three members are needed.")
    t = float(stdtrit(size - 2, 1 - alpha / (2 * size)))
    return (size - 1) / math.sqrt(size) * math.sqrt(t**2 / (size - 2 + t**2))


def grubbs_pair_probability(size: int, ratio: float) -> float:
    """Chance that the sum of squares without the two largest is so small a share of the whole.

    Parameters
    ----------
    size : int, scalar [count]
        Members, 4 to 40.
    ratio : float, scalar [1]
        Sum of squares of the others about their mean, over that of all.

    Returns
    -------
    float
        Scalar [probability], for the two largest; the same for the two smallest.

    Notes
    -----
    With Helmert's variables the ratio is ``cos(theta)**2`` of a direction that is even on a sphere; the
    condition that the two are the largest is the distribution function of the largest deviation among the
    others.
    """
    if not 4 <= size <= LARGEST_SAMPLE:
        raise SensitometryError("IMPOSSIBLE_SIZE", f"From 4 to {LARGEST_SAMPLE} members.")
    nodes, weights = _nodes()
    start = math.acos(math.sqrt(min(max(ratio, 0.0), 1.0)))
    theta = start + (math.pi / 2 - start) * (nodes + 1) / 2
    least = math.atan(math.sqrt((size - 2) / size))
    phi = least + (math.pi / 2 - least) * (nodes + 1) / 2
    deviation = np.tan(theta)[:, None] * np.cos(phi) * math.sqrt((size - 1) / (size - 2))
    others = _largest_deviation(size - 2, deviation)
    density = np.cos(theta) ** (size - 4) * np.sin(theta)
    inner = (others @ weights) * (math.pi / 2 - least) / 2
    outer = float((density * inner) @ weights) * (math.pi / 2 - start) / 2
    return size * (size - 1) * (size - 3) / (2 * math.pi) * outer


@lru_cache(maxsize=512)
def grubbs_pair_critical(size: int, alpha: float = STRAGGLER) -> float:
    """Critical value of the sum of squares without two members over that of all, either side.

    Parameters
    ----------
    size : int, scalar [count]
        Members, 4 to 40.
    alpha : float, scalar [probability]
        Level of both sides together.

    Returns
    -------
    float
        Scalar [1]; smaller is more extreme.

    Examples
    --------
    >>> round(grubbs_pair_critical(8), 4), round(grubbs_pair_critical(8, 0.01), 4)
    (0.1101, 0.0563)
    """
    return float(brentq(lambda ratio: grubbs_pair_probability(size, ratio) - alpha / 2, 1e-9, 1.0, rtol=1e-7))


def _largest_deviation(size: int, deviation: np.ndarray) -> np.ndarray:
    """Distribution function of (largest - mean) / root of the sum of squares."""
    if size == 2:
        return (deviation >= math.sqrt(0.5)).astype(float)
    angle, below = _recursion(size)
    sine = np.clip(deviation * math.sqrt(size / (size - 1)), -1.0, 1.0)
    return np.interp(np.arcsin(sine), angle, below, left=0.0, right=1.0)


@lru_cache(maxsize=1)
def _nodes() -> tuple[np.ndarray, np.ndarray]:
    return np.polynomial.legendre.leggauss(120)


@lru_cache(maxsize=256)
def _recursion(size: int) -> tuple[np.ndarray, np.ndarray]:
    """Angle and distribution function, where the sine is the deviation times root of n / (n - 1)."""
    angle = np.linspace(math.asin(1 / (size - 1)), math.pi / 2, GRID)
    constant = math.exp(gammaln((size - 1) / 2) - gammaln((size - 2) / 2)) / math.sqrt(math.pi)
    with np.errstate(over="ignore"):
        before = math.sqrt(size / (size - 1)) * np.tan(angle)
    others = np.ones(GRID) if size == 3 else _largest_deviation(size - 1, before)
    density = size * constant * np.cos(angle) ** (size - 3) * others
    return angle, cumulative_simpson(density, x=angle, initial=0.0)
