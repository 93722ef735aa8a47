"""Contrast read off gridded curves: average gradients by their names, and the exact contrast index.

The contrast index is the slope of the line from a point O of the base-plus-fog line on which the marks
at 0.2 and at 2.2 from O both lie on the curve (density and log exposure drawn to the same scale).
With the angle a of that line the marks' densities are ``b + 0.2 sin a`` and ``b + 2.2 sin a``, so that

    X(b + 2.2 sin a) - X(b + 0.2 sin a) = 2.0 cos a

with X the inverse of the curve, one equation for a; the index is tan a.

The construction is that of the ruler used in the trade, from two secondary expositions; the original
paper was not read.
"""

import numpy as np

from curves.sensitometry.fitting.gridded_curves import GriddedCurves, bracketed_root
from curves.sensitometry.measuring.speed_points import SPEED_DENSITY

INNER_MARK = 0.2
OUTER_MARK = 2.2
ARC_RADIUS = 1.5


def average_gradient(curves: GriddedCurves, start, span):
    """Mean slope of the curve from ``start`` over ``span``.

    Parameters
    ----------
    curves : GriddedCurves
        Curves, shape (k, g) [D].
    start : ndarray, shape (k,) [log10 lx s]
        Where each row's stretch begins.
    span : float, scalar [log10 lx s]
        Its length.

    Returns
    -------
    gradient : ndarray, shape (k,) [D per log10 lx s]
    """
    return (curves.density_at(start + span) - curves.density_at(start)) / span


def arc_gradient(curves: GriddedCurves, speed_log_exposure):
    """Slope of the chord of length 1.5 from the speed point to the curve (the arc variant).

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
    start_density = curves.base + SPEED_DENSITY

    def excess(reach):
        rise = curves.density_at(speed_log_exposure + reach) - start_density
        return reach**2 + rise**2 - ARC_RADIUS**2

    last = curves.origin + curves.spacing * (curves.density.shape[1] - 1)
    top = np.minimum(last - speed_log_exposure, ARC_RADIUS)
    reach = bracketed_root(excess, np.full(len(top), 0.1), top)
    return (curves.density_at(speed_log_exposure + reach) - start_density) / reach


def contrast_index(curves: GriddedCurves, is_best):
    """The exact contrast index of each row.

    Parameters
    ----------
    curves : GriddedCurves
        Curves, shape (k, g) [D]. Draws must follow the best estimate that they belong to.
    is_best : ndarray of bool, shape (k,)
        Rows to solve from scratch; the others start from the last such row above them.

    Returns
    -------
    index : ndarray, shape (k,) [D per log10 lx s]
        NaN where a mark is off the grid.
    inner, outer : ndarray, shape (k,) [log10 lx s]
        Exposures of the two marks.
    """
    angle, inner = _first_guess(curves.rows(is_best))
    owner = np.cumsum(is_best) - 1
    angle, inner = _refined_angle(curves, angle[owner], inner[owner])
    return np.tan(angle), inner, inner + (OUTER_MARK - INNER_MARK) * np.cos(angle)


def _first_guess(curves):
    """Try every grid point as the inner mark; take the first where the outer one falls below its line."""
    net = curves.density - curves.base[:, None]
    count = net.shape[1]
    sine = net / INNER_MARK
    is_angle = (sine > 0) & (sine < 1)
    sine = np.where(is_angle, sine, 0.5)
    span = (OUTER_MARK - INNER_MARK) * np.sqrt(1.0 - sine**2) / curves.spacing[:, None]
    place = np.arange(count) + span
    column = np.minimum(place.astype(np.intp), count - 2)
    share = place - column
    near, far = np.take_along_axis(net, column, axis=1), np.take_along_axis(net, column + 1, axis=1)
    excess = near + share * (far - near) - OUTER_MARK * sine
    is_past = is_angle & (excess <= 0) & (place <= count - 1)
    first = np.argmax(is_past, axis=1)
    row = np.arange(len(net))
    found = is_past[row, first]
    angle = np.where(found, np.arcsin(sine[row, first]), np.nan)
    return angle, np.where(found, curves.origin + first * curves.spacing, np.nan)


def _refined_angle(curves, angle, inner):
    """Newton's method in the angle and the inner mark's exposure, all rows at once."""
    span = OUTER_MARK - INNER_MARK
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        for _ in range(6):
            sine, cosine = np.sin(angle), np.cos(angle)
            near, near_slope = curves.density_and_gradient_at(inner)
            far, far_slope = curves.density_and_gradient_at(inner + span * cosine)
            miss1 = near - curves.base - INNER_MARK * sine
            miss2 = far - curves.base - OUTER_MARK * sine
            a12 = -INNER_MARK * cosine
            a22 = -far_slope * span * sine - OUTER_MARK * cosine
            determinant = near_slope * a22 - a12 * far_slope
            move = np.clip((miss1 * a22 - miss2 * a12) / determinant, -0.5, 0.5)
            turn = np.clip((near_slope * miss2 - far_slope * miss1) / determinant, -0.2, 0.2)
            inner, angle = inner - move, angle - turn
        is_solved = (np.abs(miss1) < 1e-6) & (np.abs(miss2) < 1e-6) & (angle > 0) & (angle < 1.55)
    return np.where(is_solved, angle, np.nan), np.where(is_solved, inner, np.nan)
