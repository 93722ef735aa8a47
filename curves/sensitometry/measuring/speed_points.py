"""Reading the speed criteria off gridded curves: all rows at once, NaN where a criterion is not there.

References
----------
ISO 6:1993 (speed point 0.10 above base plus fog, contrast pair 1.30 further on).
Nelson, C. N. and Simonds, J. L. (1956). Simple methods for approximating the fractional gradient speeds
    of photographic materials. JOSA 46(5), 324-331 (Delta-X; its coefficients from memory, only the pair
    0.80 -> 0.296 is confirmed).
"""

import numpy as np

from curves.sensitometry.fitting.gridded_curves import GriddedCurves, bracketed_root

SPEED_DENSITY = 0.10
CONTRAST_SPAN = 1.30
DELTA_X_ANCHOR = 0.83 - 0.86 * 0.80 + 0.24 * 0.80**2
# Beyond this range of contrast nothing that we know of was published (house choice).
DELTA_X_RANGE = (0.40, 1.50)


def speed_point(curves: GriddedCurves):
    """Exposure that gives 0.10 above base plus fog.

    Parameters
    ----------
    curves : GriddedCurves
        Curves, shape (k, g) [D].

    Returns
    -------
    log_exposure : ndarray, shape (k,) [log10 lx s]
        NaN where the grid starts above the criterion or never reaches it.
    crossings : ndarray of int, shape (k,) [1]
        How often the criterion is crossed upwards.
    """
    return curves.exposure_at_density(curves.base + SPEED_DENSITY)


def contrast_pair(curves: GriddedCurves, speed_log_exposure):
    """Density difference between the speed point and 1.30 further on.

    Parameters
    ----------
    curves : GriddedCurves
        Curves, shape (k, g) [D].
    speed_log_exposure : ndarray, shape (k,) [log10 lx s]
        Speed points.

    Returns
    -------
    difference : ndarray, shape (k,) [D]
    """
    return curves.density_at(speed_log_exposure + CONTRAST_SPAN) - curves.base - SPEED_DENSITY


def delta_x(difference):
    """Delta-X of a density difference over 1.30: how far below the speed point the fractional gradient is.

    Parameters
    ----------
    difference : array_like, any shape [D]
        Density difference between the speed point and 1.30 further on.

    Returns
    -------
    delta_x : ndarray, same shape [log10 lx s]
        NaN outside the contrasts that it was published for.

    Examples
    --------
    >>> float(delta_x(0.80).round(4)), float(delta_x(0.60).round(4))
    (0.2956, 0.4004)
    """
    difference = np.asarray(difference, dtype=float)
    value = 0.83 - 0.86 * difference + 0.24 * difference**2
    with np.errstate(invalid="ignore"):
        is_known = (difference >= DELTA_X_RANGE[0]) & (difference <= DELTA_X_RANGE[1])
    return np.where(is_known, value, np.nan)


def delta_x_log_speed(speed_log_exposure, difference):
    """Logarithm of the Delta-X-equivalent speed, equal to the fixed-density one at a difference of 0.80.

    Parameters
    ----------
    speed_log_exposure : array_like, any shape [log10 lx s]
        Speed points.
    difference : array_like, same shape [D]
        Density difference over 1.30.

    Returns
    -------
    log_speed : ndarray, same shape [log10 ISO arithmetic]

    Examples
    --------
    >>> round(float(10 ** delta_x_log_speed(-1.891735, 0.604220)), 1)
    78.9
    """
    return np.log10(0.8) - np.asarray(speed_log_exposure) + delta_x(difference) - DELTA_X_ANCHOR


def fractional_gradient_point(curves: GriddedCurves, near, *, reach=0.8):
    """Where the gradient is 0.3 of the average gradient over the 1.50 log exposure that start there.

    Parameters
    ----------
    curves : GriddedCurves
        Curves, shape (k, g) [D].
    near : ndarray, shape (k,) [log10 lx s]
        Speed points; the point is sought within ``reach`` below and 0.3 above.
    reach : float, scalar [log10 lx s]
        How far below the speed point to look.

    Returns
    -------
    log_exposure : ndarray, shape (k,) [log10 lx s]
    """

    def excess(log_exposure):
        density, gradient = curves.density_and_gradient_at(log_exposure)
        average = (curves.density_at(log_exposure + 1.5) - density) / 1.5
        return gradient - 0.3 * average

    low = np.maximum(near - reach, curves.origin)
    return bracketed_root(excess, low, near + 0.3)
