"""The difference between two stored curves as a curve with its band."""

import numpy as np

from curves.sensitometry.analysis import CURVE_DIGITS, Analysis
from curves.sensitometry.comparing.curve_alignment import align, interpolate, interpolate_modes
from curves.sensitometry.measuring.row_summaries import NORMAL_95

DIFFERENCE_POINTS = 101


def difference_at_equal_exposure(test: Analysis, reference: Analysis) -> dict[str, np.ndarray]:
    """Gross density difference at equal exposure with its 95 % band.

    Parameters
    ----------
    test, reference : Analysis
        Two analyses.

    Returns
    -------
    dict of str to ndarray, shape (n,)
        ``log_exposure`` [log10 lx s], ``difference``, ``low``, ``high`` [D]; empty without overlap, or
        when one exposure is absolute and the other relative.
    """
    names = ("log_exposure", "difference", "low", "high")
    blank = np.empty(0)
    curves = test.curve, reference.curve
    if test.exposure != reference.exposure or not all(curve.log_exposure.size for curve in curves):
        return _arrays(names, blank, blank, blank, blank)
    low = max(curve.log_exposure[0] for curve in curves)
    high = min(curve.log_exposure[-1] for curve in curves)
    if high <= low:
        return _arrays(names, blank, blank, blank, blank)
    grid = np.linspace(low, high, DIFFERENCE_POINTS)
    ours, theirs = (interpolate(curve, curve.density, grid) for curve in curves)
    difference = ours - theirs
    half = NORMAL_95 * np.sqrt(sum((interpolate_modes(curve, grid) ** 2).sum(axis=0) for curve in curves))
    return _arrays(names, grid, difference, difference - half, difference + half)


def difference_at_speed_point(test: Analysis, reference: Analysis) -> dict[str, np.ndarray]:
    """Net density difference with both speed points laid together, with its 95 % band.

    Parameters
    ----------
    test, reference : Analysis
        Two analyses.

    Returns
    -------
    dict of str to ndarray, shape (n,)
        ``aligned_log_exposure`` (distance from the speed point) [log10], ``aligned_difference``,
        ``aligned_low``, ``aligned_high`` [D]; empty when a speed point is withheld.
    """
    names = ("aligned_log_exposure", "aligned_difference", "aligned_low", "aligned_high")
    views = align(test), align(reference)
    blank = np.empty(0)
    if None in views:
        return _arrays(names, blank, blank, blank, blank)
    low, high = max(view.reach[0] for view in views), min(view.reach[1] for view in views)
    grid = np.linspace(low, high, DIFFERENCE_POINTS)
    (ours, our_modes), (theirs, their_modes) = (view.rise(grid) for view in views)
    half = NORMAL_95 * np.sqrt((our_modes**2).sum(axis=0) + (their_modes**2).sum(axis=0))
    return _arrays(names, grid, ours - theirs, ours - theirs - half, ours - theirs + half)


def _arrays(names, *values):
    return {name: np.round(each, CURVE_DIGITS) + 0.0 for name, each in zip(names, values, strict=True)}
