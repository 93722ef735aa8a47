"""Whether two stocks are the same in a measure within a stated margin.

Failing to find a difference is not sameness: two films read once each never differ significantly.
Equivalence is shown by two one-sided tests, that is when the (1 - 2 alpha) interval of the difference lies
within the margin. The unit of observation is an independently exposed and processed film, never one of its
readings.

References
----------
Schuirmann, D. J., J. Pharmacokinet. Biopharm. 15, 657 (1987), read in a vendor's documentation.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import stdtr, stdtrit

from curves.sensitometry.intervals import GREATEST, is_usable
from curves.sensitometry.measures import Measure, SensitometryError, withheld

LEAST_FILMS = 2  # in each group, for a variance; fewer can show neither sameness nor difference


@dataclass(frozen=True, slots=True)
class Margin:
    """How far two stocks may differ in a measure and still count as the same.

    Parameters
    ----------
    width : float, scalar [unit of the measure; a share where ``is_ratio``]
        Differences within -/+ width pass; as a ratio, quotients from ``1 - width`` to ``1 + width``.
    is_ratio : bool
        Whether the measure is compared by quotient (for quantities whose error goes with their size).
    """

    width: float
    is_ratio: bool = False

    def __post_init__(self):
        if not (is_usable(self.width) and self.width > 1e-9 and not (self.is_ratio and self.width >= 1)):
            raise SensitometryError("IMPOSSIBLE_MARGIN", "A margin is above zero, and below 1 for a ratio.")

    @property
    def limits(self) -> tuple[float, float]:
        """Ends of the margin on the scale of the test: natural logarithms for a ratio, shape (2,)."""
        if self.is_ratio:
            return math.log1p(-self.width), math.log1p(self.width)
        return -self.width, self.width


# This lab's margins: log10 speed, contrast index, density at equal net point, colour in log10 exposure.
HOUSE_MARGINS = {
    "log_speed": Margin(0.05),
    "contrast_index": Margin(0.03),
    "curve_density": Margin(0.05),
    "colour_shift": Margin(0.05),
    "rms_granularity": Margin(0.15, is_ratio=True),
}


@dataclass(frozen=True, slots=True)
class EquivalenceResult:
    """Two one-sided tests of one measure, or of several together.

    Parameters
    ----------
    difference : Measure
        Difference of the means [unit of the measure; natural log of the quotient for a ratio], with its
        interval at ``coverage``.
    coverage : float, scalar [share]
        1 - 2 alpha: the interval that must lie within the margin.
    t_lower, t_upper : float or None, scalar [1]
        Student's t against the lower and the upper end of the margin.
    p_value : float or None, scalar [probability]
        Greater of the two one-sided p-values.
    difference_p_value : float or None, scalar [probability]
        Of the ordinary two-sided test for a difference, for comparison only.
    is_equivalent : bool or None
        None when it cannot be tested.
    verdict : str
        ``equivalent``, ``different`` (the interval lies outside the margin), ``not shown``, ``unknown``.
    closeness : float or None, scalar [margins]
        The multiple of the margin within which equivalence would just be shown; up to 1 is equivalent.
    """

    difference: Measure
    coverage: float
    t_lower: float | None
    t_upper: float | None
    p_value: float | None
    difference_p_value: float | None
    is_equivalent: bool | None
    verdict: str
    closeness: float | None

    @property
    def is_without_verdict(self) -> bool:
        """Whether the difference is known, but too few films tell it for a verdict."""
        return self.difference.value is not None and self.verdict == "unknown"


def equivalence_from_summary(
    name: str, difference: float, standard_error: float, degrees: float, margin: Margin, alpha: float = 0.05
) -> EquivalenceResult:
    """Two one-sided tests from a difference and its standard error.

    Parameters
    ----------
    name : str
        Name of the difference.
    difference, standard_error : float, scalars [unit; natural log of the quotient for a ratio]
        Estimate and its standard error.
    degrees : float, scalar [1]
        Degrees of freedom of the standard error; infinite where it is known.
    margin : Margin
        What counts as the same.
    alpha : float, scalar [probability]
        Level of each one-sided test.

    Returns
    -------
    EquivalenceResult
        ``unknown`` when a number is missing or the standard error is zero.
    """
    if not 0 < alpha < 0.5:
        raise SensitometryError("IMPOSSIBLE_LEVEL", "Alpha lies between 0 and 0.5.")
    if not is_usable(difference, standard_error) or not degrees > 0:
        return untestable(name, alpha, "INVALID_INPUT")
    if standard_error <= 1e-12:
        return untestable(
            name, alpha, "NO_INTERVAL", "films that read exactly alike show no spread to judge by"
        )
    lower, upper = margin.limits
    t_lower, t_upper = (difference - lower) / standard_error, (difference - upper) / standard_error
    p_value = max(float(stdtr(degrees, -t_lower)), float(stdtr(degrees, t_upper)))
    reach = float(stdtrit(degrees, 1 - alpha)) * standard_error
    low, high = difference - reach, difference + reach
    is_equivalent = bool(lower < low and high < upper)
    is_different = low > upper or high < lower
    return EquivalenceResult(
        Measure(name, difference, low, high, note=f"{100 * (1 - 2 * alpha):g} % interval"),
        1 - 2 * alpha,
        t_lower,
        t_upper,
        p_value,
        float(2 * stdtr(degrees, -abs(difference) / standard_error)),
        is_equivalent,
        "equivalent" if is_equivalent else "different" if is_different else "not shown",
        max(high / upper, low / lower),
    )


def untestable(name: str, alpha: float, reason: str, note: str = "") -> EquivalenceResult:
    """The result of a test that cannot be made.

    Parameters
    ----------
    name, reason, note : str
        As in `withheld`.
    alpha : float, scalar [probability]
        Level that the test would have had.

    Returns
    -------
    EquivalenceResult
        ``unknown``, with the reason in its difference.
    """
    missing = withheld(name, reason, note=note)
    return EquivalenceResult(missing, 1 - 2 * alpha, None, None, None, None, None, "unknown", None)


def without_verdict(result: EquivalenceResult, note: str) -> EquivalenceResult:
    """The same difference with its interval, but nothing claimed of it.

    Parameters
    ----------
    result : EquivalenceResult
    note : str
        Why no verdict is given.

    Returns
    -------
    EquivalenceResult
        ``unknown``; one that cannot be tested stays as it is.
    """
    if result.difference.value is None:
        return result
    return replace(
        untestable(result.difference.name, (1 - result.coverage) / 2, "TOO_FEW_FILMS"),
        difference=replace(result.difference, note=note),
    )


def compare_films(
    name: str,
    films,
    reference_films,
    margin: Margin,
    *,
    alpha: float = 0.05,
    equal_variances: bool = True,
) -> EquivalenceResult:
    """Two one-sided tests of one measure between the films of two stocks.

    Parameters
    ----------
    name : str
        Name of the measure.
    films, reference_films : array_like, shapes (n,), (m,) [unit of the measure]
        One value for each independently exposed and processed film; average its readings first.
    margin : Margin
        What counts as the same.
    alpha : float, scalar [probability]
        Level of each one-sided test.
    equal_variances : bool
        Pooled variance; otherwise Welch's, with Satterthwaite's degrees.

    Returns
    -------
    EquivalenceResult
        ``TOO_FEW_FILMS`` with fewer than two films of either stock.
    """
    values = [_usable(group, margin.is_ratio) for group in (films, reference_films)]
    if min(group.size for group in values) < LEAST_FILMS:
        counts = " and ".join(str(group.size) for group in values)
        return untestable(name, alpha, "TOO_FEW_FILMS", f"{counts} films; two of each are needed")
    (n, m), (var_n, var_m) = (g.size for g in values), (float(np.var(g, ddof=1)) for g in values)
    if equal_variances:
        degrees = n + m - 2
        error = math.sqrt(((n - 1) * var_n + (m - 1) * var_m) / degrees * (1 / n + 1 / m))
    else:
        parts = var_n / n, var_m / m
        error = math.sqrt(sum(parts))
        squares = parts[0] ** 2 / (n - 1) + parts[1] ** 2 / (m - 1)
        degrees = error**4 / squares if squares > 0 else n + m - 2
    difference = float(values[0].mean() - values[1].mean())
    return equivalence_from_summary(name, difference, error, degrees, margin, alpha)


def _usable(films, is_ratio: bool) -> np.ndarray:
    values = np.asarray(films, dtype=float).ravel()
    with np.errstate(invalid="ignore"):
        values = values[np.abs(values) < GREATEST]
        return np.log(values[values > 1 / GREATEST]) if is_ratio else values


def compare_measures(
    name: str, measure: Measure, reference: Measure, margin: Margin, alpha: float = 0.05
) -> EquivalenceResult:
    """Two one-sided tests between two stored measures, by their standard errors.

    Parameters
    ----------
    name : str
        Name of the measure.
    measure, reference : Measure
        Of the stock and of the reference, pooled over films so that their intervals hold the spread
        between films.
    margin : Margin
        What counts as the same.
    alpha : float, scalar [probability]
        Level of each one-sided test.

    Returns
    -------
    EquivalenceResult
        ``unknown`` with the reason of whichever is withheld or has no two-sided interval.
    """
    for one in (measure, reference):
        if one.value is None:
            return untestable(name, alpha, one.reason, one.note)
        if one.standard_error is None:
            return untestable(name, alpha, "NO_INTERVAL")
        if margin.is_ratio and one.value <= 1 / GREATEST:
            return untestable(name, alpha, "INVALID_INPUT", "a ratio needs values above zero")
    errors = measure.standard_error, reference.standard_error
    if margin.is_ratio:
        difference = math.log(measure.value / reference.value)
        error = math.hypot(errors[0] / measure.value, errors[1] / reference.value)
    else:
        difference, error = measure.value - reference.value, math.hypot(*errors)
    return equivalence_from_summary(name, difference, error, math.inf, margin, alpha)
