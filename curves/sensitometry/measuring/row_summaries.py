"""From draws to a 95 % interval: one rule for every measure."""

from dataclasses import dataclass

import numpy as np

NORMAL_95 = 1.959964
# A draw without the criterion counts as beyond the data; more of them than this leave the side open.
OPEN_SHARE = 0.025


@dataclass(frozen=True, slots=True)
class Summary:
    """Best estimates with interval ends, shape (b,); NaN for an estimate or a side that is not there."""

    value: np.ndarray
    low: np.ndarray
    high: np.ndarray

    def through(self, function, *, falling=False) -> "Summary":
        """The same summary in another unit, by a rising (or falling) function of the numbers.

        Parameters
        ----------
        function : callable
            Elementwise function of arrays of shape (b,).
        falling : bool
            Whether it falls, so that the ends change places.

        Returns
        -------
        Summary
            Arrays of shape (b,) [unit of the function's result].
        """
        low, high = function(self.low), function(self.high)
        return Summary(function(self.value), high if falling else low, low if falling else high)


def summarise(rows, *, beyond: str = "high") -> Summary:
    """Best estimate and 95 % interval of each curve from its row of draws.

    The half-width on each side is 1.96 times the root mean square distance of the draws on that side,
    which is exact for draws that depend linearly on normal errors and keeps a skewed interval skewed.

    Parameters
    ----------
    rows : ndarray, shape (b, 1 + d) [unit of the measure]
        Best estimate, then draws; NaN where a draw lacks the criterion.
    beyond : {"high", "low"}
        On which side of the data a missing criterion lies.

    Returns
    -------
    Summary
        Arrays of shape (b,) [unit of the measure].
    """
    best, draws = rows[:, :1], rows[:, 1:]
    distance = draws - best
    is_known = np.isfinite(distance)
    missing = 1.0 - is_known.mean(axis=1)
    half = []
    for sign in (-1.0, 1.0):
        is_side = is_known & (sign * distance >= 0)
        squared = np.where(is_side, distance, 0.0) ** 2
        half.append(NORMAL_95 * np.sqrt(squared.sum(axis=1) / np.maximum(is_side.sum(axis=1), 1)))
    value = best[:, 0]
    low, high = value - half[0], value + half[1]
    is_open = missing > OPEN_SHARE
    if beyond == "high":
        high = np.where(is_open, np.nan, high)
    else:
        low = np.where(is_open, np.nan, low)
    return Summary(value, low, high)
