"""Straight lines through readings that err on both axes: agreement of two instruments or two members.

Ordinary least squares takes the x readings as exact and so draws the line too flat. Deming's line needs
the ratio of the two error variances only; York's needs the error of every reading.

References
----------
Deming, W. E., Statistical Adjustment of Data (1943). York, D. et al., Am. J. Phys. 72, 367 (2004),
unified equations. Jackknife of the Deming line: Linnet, K., Clin. Chem. 39, 424 (1993), from memory.
"""

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from curves.sensitometry.intervals import GREATEST, Z95, is_usable, measure_with_error
from curves.sensitometry.measures import Measure, SensitometryError, withheld

LEAST_SPREAD = 1e-16  # sum of squares below which readings are all alike
STEEPEST = 1e6  # a line so near to an axis shows that one reading does not follow the other


@dataclass(frozen=True, slots=True)
class StraightLine:
    """``y = intercept + slope x`` with the error of both.

    Parameters
    ----------
    intercept : Measure
        Value at x = 0 [unit of y].
    slope : Measure
        Slope [unit of y per unit of x].
    chi_square : float or None, scalar [1]
        Weighted sum of squared distances, where the errors of the readings were given.
    degrees : int, scalar [1]
        Pairs less two.
    """

    intercept: Measure
    slope: Measure
    chi_square: float | None
    degrees: int


def _pairs(x, y) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    x, y = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    if x.ndim != 1 or x.shape != y.shape:
        raise SensitometryError("BAD_SHAPE", "Give one y for each x.")
    with np.errstate(invalid="ignore"):
        usable = (np.abs(x) < math.sqrt(GREATEST)) & (np.abs(y) < math.sqrt(GREATEST))
    return x[usable], y[usable], usable


def _no_line(reason: str, note: str = "") -> StraightLine:
    return StraightLine(
        withheld("intercept", reason, note=note), withheld("slope", reason, note=note), None, 0
    )


def _deming_estimate(x: np.ndarray, y: np.ndarray, ratio: float) -> tuple[float, float] | None:
    dx, dy = x - x.mean(), y - y.mean()
    sxx, syy, sxy = float(dx @ dx), float(dy @ dy), float(dx @ dy)
    if min(sxx, syy) < LEAST_SPREAD or abs(sxy) <= 1e-12 * math.sqrt(sxx * syy):
        return None
    difference = syy - ratio * sxx
    slope = (difference + math.sqrt(difference**2 + 4 * ratio * sxy**2)) / (2 * sxy)
    if not 1 / STEEPEST < abs(slope) < STEEPEST:
        return None
    return float(y.mean() - slope * x.mean()), slope


def deming_line(x, y, variance_ratio: float = 1.0) -> StraightLine:
    """Deming's line.

    Parameters
    ----------
    x, y : array_like, shape (n,) [any unit]
        Pairs of readings; pairs that are not finite are left out.
    variance_ratio : float, scalar [unit of y squared over unit of x squared]
        Error variance of y over that of x. Some programs define its inverse.

    Returns
    -------
    StraightLine
        With jackknife intervals (Student's, n - 2 degrees). ``TOO_FEW_PAIRS`` below three pairs,
        ``NO_ASSOCIATION`` when x and y do not vary together.

    Raises
    ------
    SensitometryError
        When the lists differ in length or the ratio is not above zero.

    Examples
    --------
    >>> round(deming_line([0, 1, 2, 3], [0.1, 1.9, 4.1, 5.9]).slope.value, 3)
    1.963
    """
    if not is_usable(variance_ratio) or not 1e-9 < variance_ratio < 1e9:
        raise SensitometryError("IMPOSSIBLE_RATIO", "The ratio of error variances must be above zero.")
    x, y, _ = _pairs(x, y)
    if x.size < 3:
        return _no_line("TOO_FEW_PAIRS")
    line = _deming_estimate(x, y, variance_ratio)
    if line is None:
        return _no_line("NO_ASSOCIATION")
    left_out = [_deming_estimate(np.delete(x, i), np.delete(y, i), variance_ratio) for i in range(x.size)]
    if None in left_out:
        return _no_line("NO_ASSOCIATION", "the line stands on a single pair")
    n = x.size
    # Variance of the jackknife pseudo-values' mean.
    spread = (n - 1) * np.std(np.array(left_out), axis=0) ** 2
    sd = np.sqrt(spread) * float(stdtrit(n - 2, 0.975)) / Z95
    return StraightLine(
        measure_with_error("intercept", line[0], float(sd[0]), note="jackknife interval"),
        measure_with_error("slope", line[1], float(sd[1]), note="jackknife interval"),
        None,
        n - 2,
    )


def york_line(x, y, sd_x, sd_y, *, max_iterations: int = 200) -> StraightLine:
    """York's line for readings with known, independent errors on both axes.

    Parameters
    ----------
    x, y : array_like, shape (n,) [any unit]
        Pairs of readings.
    sd_x, sd_y : float or array_like, scalar or shape (n,) [unit of x], [unit of y]
        Standard errors, above zero.
    max_iterations : int, scalar [count]
        Iterations of the slope before giving up.

    Returns
    -------
    StraightLine
        With the standard errors of York's equations (not widened by the scatter; ``chi_square`` against
        ``degrees`` says whether the stated errors explain it). ``TOO_FEW_PAIRS``, ``NO_ASSOCIATION`` or
        ``ILL_DEFINED`` (no convergence).

    Raises
    ------
    SensitometryError
        When the lists differ in length.
    """
    x, y, usable = _pairs(x, y)
    sd_x, sd_y = (_errors(sd, usable) for sd in (sd_x, sd_y))
    with np.errstate(invalid="ignore"):
        known = (sd_x > 0) & (sd_y > 0) & (sd_x < GREATEST) & (sd_y < GREATEST)
    x, y, sd_x, sd_y = x[known], y[known], sd_x[known], sd_y[known]
    if x.size < 3:
        return _no_line("TOO_FEW_PAIRS", "pairs without an error above zero do not count")
    # A start on the scale of the errors; the iteration ends at the same slope from any sensible start.
    start = _deming_estimate(x, y, float(np.median(sd_y) ** 2 / np.median(sd_x) ** 2))
    if start is None:
        return _no_line("NO_ASSOCIATION")
    slope = start[1]
    for _ in range(max_iterations):
        previous = slope
        weight, mean_x, mean_y, beta = _york_step(x, y, sd_x**2, sd_y**2, slope)
        below = float(np.sum(weight * beta * (x - mean_x)))
        if below == 0:
            return _no_line("NO_ASSOCIATION")
        slope = float(np.sum(weight * beta * (y - mean_y))) / below
        if not abs(slope) < STEEPEST:
            return _no_line("NO_ASSOCIATION")
        if abs(slope - previous) <= 1e-14 * max(1.0, abs(slope)):
            break
    else:
        return _no_line("ILL_DEFINED", "the slope does not settle")
    weight, mean_x, mean_y, beta = _york_step(x, y, sd_x**2, sd_y**2, slope)
    intercept = mean_y - slope * mean_x
    adjusted = mean_x + beta
    mean_adjusted = float(np.sum(weight * adjusted) / np.sum(weight))
    slope_variance = 1 / float(np.sum(weight * (adjusted - mean_adjusted) ** 2))
    intercept_variance = 1 / float(np.sum(weight)) + mean_adjusted**2 * slope_variance
    return StraightLine(
        measure_with_error("intercept", intercept, math.sqrt(intercept_variance)),
        measure_with_error("slope", slope, math.sqrt(slope_variance)),
        float(np.sum(weight * (y - intercept - slope * x) ** 2)),
        x.size - 2,
    )


def _errors(sd, usable: np.ndarray) -> np.ndarray:
    sd = np.asarray(sd, dtype=float)
    if sd.ndim and sd.shape != usable.shape:
        raise SensitometryError("BAD_SHAPE", "Give one standard error for each pair, or one for all.")
    return np.broadcast_to(sd, usable.shape)[usable]


def _york_step(x, y, variance_x, variance_y, slope):
    """Weights, weighted means, and the adjusted deviations beta of York's equations."""
    weight = 1 / (variance_y + slope**2 * variance_x)
    mean_x, mean_y = float(np.sum(weight * x) / np.sum(weight)), float(np.sum(weight * y) / np.sum(weight))
    beta = weight * ((x - mean_x) * variance_y + slope * (y - mean_y) * variance_x)
    return weight, mean_x, mean_y, beta
