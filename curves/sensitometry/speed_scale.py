"""The arithmetic and logarithmic speed scale of the standard for black-and-white still films.

References
----------
ISO 6:1993, Photography - Black-and-white pictorial still camera negative film/process systems -
    Determination of ISO speed, Table 1 (steps from memory, checked against the formula).
"""

import numpy as np

from curves.sensitometry.measures import SensitometryError

# Arithmetic speeds from 0 degrees up. From memory; each differs from its exact value by at most 6 %.
ARITHMETIC = (
    0.8, 1, 1.2, 1.6, 2, 2.5, 3, 4, 5, 6, 8, 10, 12, 16, 20, 25, 32, 40, 50, 64, 80, 100, 125, 160, 200,
    250, 320, 400, 500, 640, 800, 1000, 1250, 1600, 2000, 2500, 3200, 4000, 5000, 6400, 8000, 10000, 12500,
    16000, 20000, 25000, 32000,
)  # fmt: skip
STOP = float(np.log10(2.0))
CONTRAST_AIM = 0.80
# From memory of the standard; not confirmed in print.
CONTRAST_TOLERANCE = 0.05


def speed_from_exposure(log_exposure):
    """Speed 0.8 / Hm.

    Parameters
    ----------
    log_exposure : array_like, any shape [log10 lx s]
        Speed point.

    Returns
    -------
    speed : ndarray, same shape [ISO arithmetic]

    Examples
    --------
    >>> float(speed_from_exposure(-2.1).round(2))
    100.71
    """
    return 0.8 * 10.0 ** -np.asarray(log_exposure, dtype=float)


def speed_degree(speed) -> int:
    """Degree of the logarithmic scale, ``floor(10 log10 S + 1.5)``; never the language's own rounding.

    Parameters
    ----------
    speed : float, scalar [ISO arithmetic]
        Exact speed, above zero.

    Returns
    -------
    degree : int, scalar [degree]

    Raises
    ------
    SensitometryError
        When the speed is not above zero.

    Examples
    --------
    >>> speed_degree(359.0), speed_degree(100.71)
    (27, 21)
    """
    if not speed > 0:
        raise SensitometryError("SPEED_NOT_POSITIVE", "A speed must be above zero.")
    return int(np.floor(10.0 * np.log10(speed) + 1.5))


def exact_speed(degree) -> float:
    """Speed in the middle of a degree, ``10^((degree - 1) / 10)``.

    Parameters
    ----------
    degree : int, scalar [degree]
        Degree of the logarithmic scale.

    Returns
    -------
    speed : float, scalar [ISO arithmetic]

    Examples
    --------
    >>> round(exact_speed(18), 2)
    50.12
    """
    return float(10.0 ** ((degree - 1) / 10.0))


def rounded_speed(speed) -> float | None:
    """Arithmetic step of the scale for an exact speed.

    Parameters
    ----------
    speed : float, scalar [ISO arithmetic]
        Exact speed, above zero.

    Returns
    -------
    speed : float or None, scalar [ISO arithmetic]
        None outside the scale.

    Examples
    --------
    >>> rounded_speed(359.0), rounded_speed(90.0), rounded_speed(0.5)
    (400.0, 100.0, None)
    """
    degree = speed_degree(speed)
    return float(ARITHMETIC[degree]) if 0 <= degree < len(ARITHMETIC) else None


def stops_between(speed, other):
    """Stops from one speed to another, positive when the first is the faster.

    Parameters
    ----------
    speed, other : array_like, any shape [ISO arithmetic]
        Two speeds or exposure indices.

    Returns
    -------
    stops : ndarray, same shape [stop]

    Examples
    --------
    >>> float(stops_between(1600, 400))
    2.0
    """
    return np.log2(np.asarray(speed, dtype=float) / np.asarray(other, dtype=float))
