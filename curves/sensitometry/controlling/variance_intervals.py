"""Intervals of sums and differences of independent variances, as analyses of variance give them.

References
----------
Burdick, R. K. & Graybill, F. A., Confidence Intervals on Variance Components (1992), from memory: the
modified large-sample method of Graybill & Wang for sums, of Ting et al. for differences.
"""

import math
from collections.abc import Sequence

from scipy.special import chdtri, fdtri

from curves.sensitometry.measures import Measure

TAIL = 0.025


def variance_sum_interval(parts: Sequence[float], degrees: Sequence[float]) -> tuple[float, float]:
    """A 95 % interval of the sum of independent variances.

    Parameters
    ----------
    parts : sequence of float, shape (k,) [unit squared]
        Estimates, each a mean square times a known factor above zero.
    degrees : sequence of float, shape (k,) [1]
        Degrees of freedom of each.

    Returns
    -------
    tuple of float
        Ends, scalars [unit squared]. Exact for a single part.

    Examples
    --------
    >>> low, high = variance_sum_interval([1.0], [10])
    >>> round(low, 3), round(high, 3)
    (0.488, 3.08)
    """
    total = sum(parts)
    below = sum((_lower_share(d) * part) ** 2 for part, d in zip(parts, degrees, strict=True))
    above = sum((_upper_share(d) * part) ** 2 for part, d in zip(parts, degrees, strict=True))
    return max(total - math.sqrt(below), 0.0), total + math.sqrt(above)


def variance_difference_interval(
    first: float, second: float, first_degrees: float, second_degrees: float
) -> tuple[float, float]:
    """A 95 % interval of a variance less another independent one, not below zero.

    Parameters
    ----------
    first, second : float, scalars [unit squared]
        Mean squares, the first expected to be the greater.
    first_degrees, second_degrees : float, scalars [1]
        Their degrees of freedom.

    Returns
    -------
    tuple of float
        Ends, scalars [unit squared].
    """
    difference = first - second
    high_f = float(fdtri(first_degrees, second_degrees, 1 - TAIL))
    low_f = float(fdtri(first_degrees, second_degrees, TAIL))
    g1, g2 = _lower_share(first_degrees), _lower_share(second_degrees)
    h1, h2 = _upper_share(first_degrees), _upper_share(second_degrees)
    cross_low = ((high_f - 1) ** 2 - (g1 * high_f) ** 2 - h2**2) / high_f
    cross_high = ((1 - low_f) ** 2 - (h1 * low_f) ** 2 - g2**2) / low_f
    below = (g1 * first) ** 2 + (h2 * second) ** 2 + cross_low * first * second
    above = (h1 * first) ** 2 + (g2 * second) ** 2 + cross_high * first * second
    low = difference - math.sqrt(max(below, 0.0))
    high = difference + math.sqrt(max(above, 0.0))
    return max(low, 0.0), max(high, 0.0)


def deviation_measure(
    name: str, variance: float, interval: tuple[float, float], unit: str, factor: float = 1.0, note: str = ""
) -> Measure:
    """A standard deviation, or a multiple of it, from a variance and its interval.

    Parameters
    ----------
    name, unit, note : str
        As in `Measure`.
    variance : float, scalar [unit squared]
        Estimate; below zero counts as zero.
    interval : tuple of float, shape (2,) [unit squared]
        Its ends.
    factor : float, scalar [1]
        Multiple of the standard deviation.

    Returns
    -------
    Measure
    """
    value, low, high = (factor * math.sqrt(max(each, 0.0)) for each in (variance, *interval))
    return Measure(name, value, min(low, value), max(high, value), unit, None, note)


def _lower_share(degrees: float) -> float:
    """How far below the estimate the interval of one variance reaches, as a share of it."""
    return 1 - degrees / float(chdtri(degrees, TAIL))


def _upper_share(degrees: float) -> float:
    return degrees / float(chdtri(degrees, 1 - TAIL)) - 1
