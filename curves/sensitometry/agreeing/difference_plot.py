"""The difference plot with limits of agreement: two instruments or members on the same patches.

References
----------
Limits of agreement: Bland, J. M. & Altman, D. G., Lancet 327, 307 (1986), from memory. Their intervals are
the exact ones of a normal quantile, by the noncentral t distribution.
"""

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import nctdtrit, stdtrit

from curves.sensitometry.controlling.variance_intervals import deviation_measure, variance_sum_interval
from curves.sensitometry.controlling.within_spread import usable_points
from curves.sensitometry.intervals import Z95
from curves.sensitometry.measures import Measure, SensitometryError, withheld

FEWEST_PAIRS = 5  # house rule; with fewer the limits of agreement are known to a factor of three at best
NAMES = ("mean_difference", "agreement_low", "agreement_high", "difference_sd", "difference_slope")


@dataclass(frozen=True)
class DifferencePlot:
    """Differences of paired readings against their means.

    Parameters
    ----------
    mean : ndarray, shape (n,) [unit]
        Mean of each pair.
    difference : ndarray, shape (n,) [unit]
        First less second.
    mean_difference, difference_sd : Measure
        [unit], with 95 % intervals.
    low_limit, high_limit : Measure
        Limits of agreement [unit], between which 95 of 100 differences lie, each with its interval.
    slope : Measure
        Change of the difference with the mean [unit per unit]; where its interval leaves zero out, one
        limit for all densities misleads.
    """

    mean: np.ndarray
    difference: np.ndarray
    mean_difference: Measure
    difference_sd: Measure
    low_limit: Measure
    high_limit: Measure
    slope: Measure

    @property
    def is_level(self) -> bool | None:
        """Whether the differences show no change with density; None where it cannot be told."""
        if self.slope.value is None:
            return None
        return self.slope.low <= 0 <= self.slope.high

    def to_dict(self) -> dict:
        """The fields as plain JSON values."""
        measures = ("mean_difference", "difference_sd", "low_limit", "high_limit", "slope")
        return {
            "mean": self.mean.tolist(),
            "difference": self.difference.tolist(),
            **{name: getattr(self, name).to_dict() for name in measures},
            "is_level": self.is_level,
        }


def difference_plot(first, second, unit: str = "D") -> DifferencePlot:
    """Limits of agreement of paired readings.

    Parameters
    ----------
    first, second : array_like, shape (n,) [unit]
        Readings of the same patches; pairs with a missing one are left out.
    unit : str
        Unit of the readings.

    Returns
    -------
    DifferencePlot
        Withheld with ``TOO_FEW_PAIRS`` below five pairs.

    Raises
    ------
    SensitometryError
        When the lists differ in length.

    Examples
    --------
    >>> plot = difference_plot([0.11, 0.52, 1.01, 1.53, 2.02], [0.10, 0.50, 1.00, 1.50, 2.00])
    >>> round(plot.mean_difference.value, 3)
    0.018
    """
    first, second = usable_points(first), usable_points(second)
    if first.shape != second.shape:
        raise SensitometryError("BAD_SHAPE", "Give one second reading for each first.")
    known = np.isfinite(first) & np.isfinite(second)
    mean, difference = (first + second)[known] / 2, (first - second)[known]
    if difference.size < FEWEST_PAIRS:
        note = f"{difference.size} pairs, at least {FEWEST_PAIRS} are needed"
        lacking = {name: withheld(name, "TOO_FEW_PAIRS", _unit(name, unit), note) for name in NAMES}
        return _plot(mean, difference, lacking)
    return _plot(mean, difference, _measures(mean, difference, unit))


def _unit(name: str, unit: str) -> str:
    return "" if name == "difference_slope" else unit


def _plot(mean, difference, measures: dict[str, Measure]) -> DifferencePlot:
    return DifferencePlot(
        mean,
        difference,
        measures["mean_difference"],
        measures["difference_sd"],
        measures["agreement_low"],
        measures["agreement_high"],
        measures["difference_slope"],
    )


def _measures(mean: np.ndarray, difference: np.ndarray, unit: str) -> dict[str, Measure]:
    count, centre = difference.size, float(difference.mean())
    sd = float(difference.std(ddof=1))
    reach = float(stdtrit(count - 1, 0.975)) * sd / math.sqrt(count)
    # centre + t sd / sqrt(n) bounds mean + 1.96 sigma where t is a quantile of the noncentral t.
    near, far = (
        float(nctdtrit(count - 1, Z95 * math.sqrt(count), share)) * sd / math.sqrt(count)
        for share in (0.025, 0.975)
    )
    note = f"{count} pairs"
    limit = Z95 * sd
    ends = variance_sum_interval([sd**2], [count - 1])
    return {
        "mean_difference": Measure(
            "mean_difference", centre, centre - reach, centre + reach, unit, None, note
        ),
        "difference_sd": deviation_measure("difference_sd", sd**2, ends, unit, note=note),
        "agreement_low": Measure(
            "agreement_low", centre - limit, centre - far, centre - near, unit, None, note
        ),
        "agreement_high": Measure(
            "agreement_high", centre + limit, centre + near, centre + far, unit, None, note
        ),
        "difference_slope": _slope(mean, difference),
    }


def _slope(mean: np.ndarray, difference: np.ndarray) -> Measure:
    name, away = "difference_slope", mean - mean.mean()
    square = float(away @ away)
    if square < 1e-12:
        return withheld(name, "NO_ASSOCIATION", note="all pairs are of the same density")
    slope = float(away @ difference) / square
    residual = difference - difference.mean() - slope * away
    degrees = mean.size - 2
    sd = math.sqrt(float(residual @ residual) / degrees / square)
    reach = float(stdtrit(degrees, 0.975)) * sd
    return Measure(
        name, slope, slope - reach, slope + reach, "", None, "least squares on the mean of each pair"
    )
