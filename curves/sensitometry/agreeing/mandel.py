"""Mandel's h and k: how far each member's mean and spread stand from those of all.

References
----------
ISO 5725-2, 7.3.1 (from memory).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import fdtri, stdtrit

from curves.sensitometry.agreeing.outlier_limits import OUTLIER, STRAGGLER


@dataclass(frozen=True, slots=True)
class GroupReadings:
    """What one member or instrument read.

    Parameters
    ----------
    label : str
        Who or what.
    readings : int, scalar [count]
        Usable readings.
    mean, standard_deviation : float or None, scalars [unit]
        Of the readings; no standard deviation of a single one.
    h, k : float or None, scalars [1]
        Mandel's: the mean's distance from all in standard deviations of means, and the spread over the
        common one.
    h_place, k_place : str
        ``within``, ``beyond_5`` or ``beyond_1`` (per cent indicator lines), or empty.
    """

    label: str
    readings: int
    mean: float
    standard_deviation: float | None
    h: float | None
    k: float | None
    h_place: str
    k_place: str

    def to_dict(self) -> dict:
        """The fields as plain JSON values."""
        return {name: getattr(self, name) for name in self.__slots__}


def group_readings(labels: Sequence[str], sizes, means, variances) -> tuple[GroupReadings, ...]:
    """What each member read, with h and k.

    Parameters
    ----------
    labels : sequence of str, shape (p,)
        Members, at least two.
    sizes : ndarray, shape (p,) [readings]
        Usable readings of each, at least one with two.
    means : ndarray, shape (p,) [unit]
        Mean of each.
    variances : sequence of float, shape (p,) [unit squared]
        Variance of each; of a single reading it is not looked at.

    Returns
    -------
    tuple of GroupReadings
    """
    count = sizes.size
    spread_of_means = float(means.std(ddof=1))
    repeated = sizes > 1
    common = math.sqrt(float(np.mean(np.array(variances)[repeated])))
    h_lines = [h_indicator(count, alpha) for alpha in (STRAGGLER, OUTLIER)]
    k_size = float(sizes[repeated].mean())
    k_lines = [k_indicator(int(repeated.sum()), k_size, alpha) for alpha in (STRAGGLER, OUTLIER)]
    made = []
    for label, size, mean, variance in zip(labels, sizes, means, variances, strict=True):
        h = float((mean - means.mean()) / spread_of_means) if spread_of_means > 1e-12 else None
        k = math.sqrt(variance) / common if size > 1 and common > 1e-12 else None
        sd = math.sqrt(variance) if size > 1 else None
        made.append(
            GroupReadings(label, int(size), float(mean), sd, h, k, _place(h, h_lines), _place(k, k_lines))
        )
    return tuple(made)


def _place(value: float | None, lines: list[float | None]) -> str:
    if value is None or None in lines:
        return ""
    return "beyond_1" if abs(value) > lines[1] else "beyond_5" if abs(value) > lines[0] else "within"


def h_indicator(groups: int, alpha: float) -> float | None:
    """Indicator line of Mandel's h.

    Parameters
    ----------
    groups : int, scalar [count]
        Members.
    alpha : float, scalar [probability]
        Level.

    Returns
    -------
    float or None
        Scalar [1]; None below three members.
    """
    if groups < 3:
        return None
    t = float(stdtrit(groups - 2, 1 - alpha / 2))
    return (groups - 1) * t / math.sqrt(groups * (t**2 + groups - 2))


def k_indicator(groups: int, size: float, alpha: float) -> float | None:
    """Indicator line of Mandel's k.

    Parameters
    ----------
    groups : int, scalar [count]
        Members that read more than once.
    size : float, scalar [readings]
        Readings of each, their mean where they differ.
    alpha : float, scalar [probability]
        Level.

    Returns
    -------
    float or None
        Scalar [1]; None below two members.
    """
    if groups < 2:
        return None
    ratio = float(fdtri(size - 1, (groups - 1) * (size - 1), 1 - alpha))
    return math.sqrt(groups * ratio / (ratio + groups - 1))
