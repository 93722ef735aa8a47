"""The spread of a process in control, from what varies within it and never from the overall spread.

A shift or a drift widens the overall standard deviation, and limits drawn from that would hide the very
thing that they are to show.

References
----------
Variance of the mean moving range: Cryer, J. D. & Ryan, T. P., J. Qual. Technol. 22, 187 (1990), from memory;
derived again from the covariance of two ranges that share a reading.
"""

import math
from dataclasses import asdict, dataclass

import numpy as np
from scipy.special import chdtri

from curves.sensitometry.controlling.control_constants import control_constants
from curves.sensitometry.controlling.run_rules import phase_starts
from curves.sensitometry.intervals import GREATEST
from curves.sensitometry.measures import Measure, SensitometryError, withheld

D2_OF_TWO = 2 / math.sqrt(math.pi)
# Variance of one moving range and covariance of two that share a reading, over d2 squared.
_OWN = (2 - 4 / math.pi) / D2_OF_TWO**2
_SHARED = 4 / math.pi * (math.sqrt(0.75) + math.pi / 12 - 1) / D2_OF_TWO**2


@dataclass(frozen=True, slots=True)
class WithinSpread:
    """A standard deviation from neighbouring readings.

    Parameters
    ----------
    standard_deviation : Measure
        With its 95 % interval; ``TOO_FEW_STRIPS`` where no two neighbours were read.
    degrees_of_freedom : float, scalar [1]
        Of a variance that is as well known.
    ranges : int, scalar [count]
        Ranges that were averaged.
    """

    standard_deviation: Measure
    degrees_of_freedom: float
    ranges: int

    def to_dict(self) -> dict:
        """The fields as plain JSON values."""
        return {**asdict(self), "standard_deviation": self.standard_deviation.to_dict()}


def usable_points(values) -> np.ndarray:
    """A list of readings in which whatever is no usable number has become NaN.

    Parameters
    ----------
    values : array_like, shape (n,) [any unit]
        Readings in the order of time; None, NaN and infinity stand for a missing one.

    Returns
    -------
    ndarray, shape (n,) [the same unit]

    Raises
    ------
    SensitometryError
        When this is not one list of numbers.
    """
    try:
        values = np.array(values, dtype=float)
    except (TypeError, ValueError):
        raise SensitometryError("NOT_NUMBERS", "Every point must be a number or missing.") from None
    if values.ndim != 1:
        raise SensitometryError("BAD_SHAPE", "Give the points as one list.")
    with np.errstate(invalid="ignore"):
        values[~(np.abs(values) < GREATEST)] = np.nan
    return values


def moving_ranges(values, phase=None) -> np.ndarray:
    """Distance of each reading from the one before it in its phase.

    Parameters
    ----------
    values : array_like, shape (n,) [any unit]
        Readings in the order of time; missing ones are passed over.
    phase : array_like or None, shape (n,) [label]
        Readings with another label are no neighbours.

    Returns
    -------
    ndarray, shape (n,) [the same unit]
        NaN where a reading is missing and at the first of a phase.

    Examples
    --------
    >>> moving_ranges([0.30, 0.33, 0.31]).round(2).tolist()
    [nan, 0.03, 0.02]
    """
    values = usable_points(values)
    present = np.flatnonzero(np.isfinite(values))
    start = phase_starts(values.size, phase)[present]
    ranges = np.full(values.size, np.nan)
    together = start[1:] == start[:-1]
    ranges[present[1:][together]] = np.abs(np.diff(values[present]))[together]
    return ranges


def spread_from_moving_ranges(values, phase=None, unit: str = "D", least: float = 0.0) -> WithinSpread:
    """Standard deviation of one reading from the mean moving range over d2.

    Parameters
    ----------
    values : array_like, shape (n,) [unit]
        Readings in the order of time.
    phase : array_like or None, shape (n,) [label]
        As in `moving_ranges`.
    unit : str
        Unit of the readings.
    least : float, scalar [unit]
        Least standard deviation that is believed, such as the reading uncertainty: readings that are
        rounded may all be alike.

    Returns
    -------
    WithinSpread

    Examples
    --------
    >>> spread_from_moving_ranges([0.30, 0.33, 0.31, 0.32]).standard_deviation.value
    0.0177...
    """
    ranges = moving_ranges(values, phase)
    ranges = ranges[np.isfinite(ranges)]
    name = "within_spread"
    if ranges.size == 0:
        return WithinSpread(withheld(name, "TOO_FEW_STRIPS", unit), 0.0, 0)
    present = np.isfinite(usable_points(values))
    # Each stretch of m neighbours has m - 1 pairs of ranges that share a reading.
    stretches = np.unique(phase_starts(present.size, phase)[present], return_counts=True)[1] - 1
    pairs = int(np.sum(np.maximum(stretches - 1, 0)))
    relative_variance = (ranges.size * _OWN + 2 * pairs * _SHARED) / ranges.size**2
    degrees = 1 / (2 * relative_variance)
    value = float(ranges.mean()) / D2_OF_TWO
    measure = _spread_measure(name, value, degrees, unit, least, "mean moving range / d2")
    return WithinSpread(measure, degrees, int(ranges.size))


def spread_from_sample_ranges(ranges, sizes, unit: str = "D", least: float = 0.0) -> WithinSpread:
    """Standard deviation of one reading from the ranges of samples, each over its own d2.

    Parameters
    ----------
    ranges : array_like, shape (k,) [unit]
        Greatest less least reading of each sample.
    sizes : array_like of int, shape (k,)
        Readings in each sample; samples of fewer than two say nothing.
    unit : str
        Unit of the readings.
    least : float, scalar [unit]
        Least standard deviation that is believed.

    Returns
    -------
    WithinSpread
    """
    name = "within_spread"
    constants = [control_constants(int(size)) if size >= 2 else None for size in sizes]
    usable = [(r, c) for r, c in zip(ranges, constants, strict=True) if c is not None]
    if not usable:
        return WithinSpread(withheld(name, "TOO_FEW_STRIPS", unit), 0.0, 0)
    value = float(np.mean([r / c.d2 for r, c in usable]))
    relative_variance = sum((c.d3 / c.d2) ** 2 for _, c in usable) / len(usable) ** 2
    degrees = 1 / (2 * relative_variance)
    return WithinSpread(
        _spread_measure(name, value, degrees, unit, least, "mean range / d2"), degrees, len(usable)
    )


def _spread_measure(name, value: float, degrees: float, unit: str, least: float, note: str) -> Measure:
    low, high = (value * math.sqrt(degrees / q) for q in chdtri(degrees, [0.025, 0.975]))
    if value < least:
        # The interval keeps the least within it: nothing is known below it.
        note = f"{note} was below the least that is believed"
        return Measure(name, least, least, max(high, least), unit, None, note)
    return Measure(name, value, max(low, least), high, unit, None, note)
