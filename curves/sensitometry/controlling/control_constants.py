"""The constants of control charts, integrated numerically for samples of 2 to 25 instead of typed.

References
----------
Distribution of the range of a normal sample: Tippett, L. H. C., Biometrika 17, 364 (1925). The names of
the constants are those of ISO 7870-2:2013, from memory.
"""

import math
from dataclasses import asdict, dataclass
from functools import lru_cache

import numpy as np
from scipy.special import gammaln, ndtr

from curves.sensitometry.measures import SensitometryError

SMALLEST, LARGEST = 2, 25
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(160)
_REACH = 9.0  # standard deviations; what lies beyond adds less than 1e-17


@dataclass(frozen=True, slots=True)
class ControlConstants:
    """Constants of a normal sample of one size; all plain numbers.

    Parameters
    ----------
    size : int, scalar [count]
        Readings or strips in a sample.
    d2, d3 : float, scalars [standard deviations]
        Mean and standard deviation of the range.
    c4 : float, scalar [standard deviations]
        Mean of the sample's standard deviation.
    a2, a3 : float, scalars [1]
        Limits of means, from the mean range and from the mean standard deviation.
    b3, b4 : float, scalars [1]
        Limits of standard deviations over their mean.
    big_d3, big_d4 : float, scalars [1]
        Limits of ranges over their mean: D3 and D4.
    e2 : float, scalar [1]
        Limits of single readings from the mean moving range of ``size`` neighbours.
    """

    size: int
    d2: float
    d3: float
    c4: float
    a2: float
    a3: float
    b3: float
    b4: float
    big_d3: float
    big_d4: float
    e2: float

    def to_dict(self) -> dict:
        """The fields as plain JSON values."""
        return asdict(self)


@lru_cache(maxsize=LARGEST)
def control_constants(size: int) -> ControlConstants:
    """The constants for samples of one size.

    Parameters
    ----------
    size : int, scalar [count]
        From 2 to 25.

    Returns
    -------
    ControlConstants
        To some 12 digits.

    Raises
    ------
    SensitometryError
        ``IMPOSSIBLE_SIZE`` for another size.

    Examples
    --------
    >>> constants = control_constants(5)
    >>> round(constants.d2, 4), round(constants.a2, 3), round(constants.big_d4, 3)
    (2.3259, 0.577, 2.114)
    """
    if not (isinstance(size, int | np.integer) and SMALLEST <= size <= LARGEST):
        raise SensitometryError("IMPOSSIBLE_SIZE", f"A sample has {SMALLEST} to {LARGEST} readings.")
    d2, d3 = _range_moments(int(size))
    c4 = math.sqrt(2 / (size - 1)) * math.exp(gammaln(size / 2) - gammaln((size - 1) / 2))
    relative_sd = math.sqrt(1 - c4**2) / c4
    return ControlConstants(
        size=int(size),
        d2=d2,
        d3=d3,
        c4=c4,
        a2=3 / (d2 * math.sqrt(size)),
        a3=3 / (c4 * math.sqrt(size)),
        b3=max(0.0, 1 - 3 * relative_sd),
        b4=1 + 3 * relative_sd,
        big_d3=max(0.0, 1 - 3 * d3 / d2),
        big_d4=1 + 3 * d3 / d2,
        e2=3 / d2,
    )


def mean_range_constant(size: int, samples: int) -> float:
    """The divisor d2* that makes a mean range an unbiased root of the variance.

    Parameters
    ----------
    size : int, scalar [count]
        Readings in a sample, 2 to 25.
    samples : int, scalar [count]
        Samples whose ranges were averaged; with many of them the divisor tends to d2.

    Returns
    -------
    float
        ``sqrt(d2**2 + d3**2 / samples)``, scalar [standard deviations].

    Examples
    --------
    >>> round(mean_range_constant(3, 1), 3)
    1.912
    """
    if not samples >= 1:
        raise SensitometryError("IMPOSSIBLE_SIZE", "At least one sample is needed.")
    constants = control_constants(size)
    return math.hypot(constants.d2, constants.d3 / math.sqrt(samples))


def _range_moments(size: int) -> tuple[float, float]:
    """Mean and standard deviation of the range, from its distribution function."""
    x, x_weight = _REACH * _NODES, _REACH * _WEIGHTS
    width, width_weight = _REACH * (1 + _NODES), _REACH * _WEIGHTS
    normal = np.exp(-0.5 * x**2) / math.sqrt(2 * math.pi)
    # P(range <= w) = n * integral of phi(x) (Phi(x + w) - Phi(x))**(n - 1)
    between = ndtr(x + width[:, None]) - ndtr(x)
    beyond = 1 - size * (between ** (size - 1)) @ (normal * x_weight)
    mean = float(width_weight @ beyond)
    square = float(2 * (width_weight * width) @ beyond)
    return mean, math.sqrt(square - mean**2)
