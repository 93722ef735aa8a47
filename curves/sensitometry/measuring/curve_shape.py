"""Shape read off gridded curves: straight part, toe, shoulder, useful range (house definitions).

The straight part is the longest run of steps whose fitted densities lie within 0.02 D of a line; its
slope is gamma. Toe, straight extent and shoulder are where the gradient passes 0.90 gamma; the useful
range ends where the gradient has fallen to 0.3 of the average gradient.
"""

import numpy as np

from curves.sensitometry.fitting.gridded_curves import GriddedCurves

STRAIGHT_RESIDUAL = 0.02
STRAIGHT_STEPS = 4
STRAIGHT_SHARE = 0.90
USEFUL_SHARE = 0.3
HIGHLIGHT_SPAN = (1.8, 2.4)
STEEPEST_SPAN = 0.30


def straight_run(log_exposure, density):
    """Longest run of steps on a line; of equally long ones the steepest.

    Parameters
    ----------
    log_exposure : array_like, shape (n,) [log10 lx s]
        Exposures, rising.
    density : array_like, shape (n,) [D]
        Fitted densities.

    Returns
    -------
    run : tuple of int or None
        First and last index; None when no four steps lie within 0.02 D of a rising line.

    Examples
    --------
    >>> straight_run([0, 1, 2, 3, 4, 5], [0, 0, 1, 2, 3, 4])
    (1, 5)
    """
    x, y = np.asarray(log_exposure, dtype=float), np.asarray(density, dtype=float)
    for length in range(len(x), STRAIGHT_STEPS - 1, -1):
        window = np.arange(len(x) - length + 1)[:, None] + np.arange(length)
        across = x[window] - x[window].mean(axis=1, keepdims=True)
        up = y[window] - y[window].mean(axis=1, keepdims=True)
        slope = (across * up).sum(axis=1) / (across**2).sum(axis=1)
        worst = np.abs(up - slope[:, None] * across).max(axis=1)
        is_good = (worst <= STRAIGHT_RESIDUAL) & (slope * (x[window[:, -1]] - x[window[:, 0]]) > 0.10)
        if is_good.any():
            first = int(np.argmax(np.where(is_good, slope, -np.inf)))
            return first, first + length - 1
    return None


def line_slope(curves: GriddedCurves, log_exposure):
    """Least-squares slope of each row over its own set of steps.

    Parameters
    ----------
    curves : GriddedCurves
        Curves, shape (k, g) [D].
    log_exposure : ndarray, shape (k, s) [log10 lx s]
        Steps of the straight part; NaN for unused places.

    Returns
    -------
    slope : ndarray, shape (k,) [D per log10 lx s]
        NaN where no step is given.
    """
    total = np.zeros(len(log_exposure))
    used = ~np.isnan(log_exposure)
    count = used.sum(axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        centre = np.where(used, log_exposure, 0.0).sum(axis=1) / count
        across = np.where(used, log_exposure - centre[:, None], 0.0)
        weight = across / (across**2).sum(axis=1, keepdims=True)
    for step in range(log_exposure.shape[1]):
        density = curves.density_at(log_exposure[:, step])
        total = total + np.where(used[:, step], weight[:, step] * density, 0.0)
    return np.where(count > 0, total, np.nan)


def useful_end(curves: GriddedCurves, average, anchor):
    """Exposure above the anchor where the gradient has fallen to 0.3 of the average gradient.

    Parameters
    ----------
    curves : GriddedCurves
        Curves, shape (k, g) [D].
    average : ndarray, shape (k,) [D per log10 lx s]
        Average gradient over 1.50 from the speed point.
    anchor : ndarray, shape (k,) [log10 lx s]
        A place on the straight part.

    Returns
    -------
    log_exposure : ndarray, shape (k,) [log10 lx s]
        NaN where the gradient stays above it to the end of the grid.
    """
    return curves.gradient_edges(USEFUL_SHARE * average, anchor)[1]


def highlight_gradient(curves: GriddedCurves, speed_log_exposure):
    """Mean gradient between 1.8 and 2.4 above the speed point.

    Parameters
    ----------
    curves : GriddedCurves
        Curves, shape (k, g) [D].
    speed_log_exposure : ndarray, shape (k,) [log10 lx s]
        Speed points.

    Returns
    -------
    gradient : ndarray, shape (k,) [D per log10 lx s]
    """
    first, last = HIGHLIGHT_SPAN
    rise = curves.density_at(speed_log_exposure + last) - curves.density_at(speed_log_exposure + first)
    return rise / (last - first)


def steepest_gradient(curves: GriddedCurves, is_best):
    """Mean gradient over the 0.30 log exposure where the best estimate is steepest.

    Draws are read at the place of their best estimate: each draw's own steepest place would always be
    steeper than the truth.

    Parameters
    ----------
    curves : GriddedCurves
        Curves, shape (k, g) [D].
    is_best : ndarray of bool, shape (k,)
        Rows of best estimates; the rows after each are its draws.

    Returns
    -------
    gradient : ndarray, shape (k,) [D per log10 lx s]
        NaN when less than 0.30 was measured.
    """
    best = curves.rows(is_best)
    starts = best.low[:, None] + np.linspace(0.0, 1.0, 61) * (best.high - best.low - STEEPEST_SPAN)[:, None]
    rises = [best.density_at(start + STEEPEST_SPAN) - best.density_at(start) for start in starts.T]
    place = starts[np.arange(len(starts)), np.argmax(rises, axis=0)][np.cumsum(is_best) - 1]
    return (curves.density_at(place + STEEPEST_SPAN) - curves.density_at(place)) / STEEPEST_SPAN
