"""Tests for a member or instrument that does not belong: Cochran's for spread, Grubbs' for means.

Beyond the 5 % value a member is a straggler, to be looked into; beyond the 1 % value an outlier.

References
----------
ISO 5725-2, 7.3 (from memory).
"""

from collections.abc import Sequence
from dataclasses import asdict, dataclass

import numpy as np

from curves.sensitometry.agreeing.outlier_limits import (
    LARGEST_SAMPLE,
    OUTLIER,
    STRAGGLER,
    cochran_critical,
    grubbs_critical,
    grubbs_pair_critical,
)


@dataclass(frozen=True, slots=True)
class OutlierTest:
    """One test.

    Parameters
    ----------
    test : str
        ``cochran``, ``grubbs_high``, ``grubbs_low``, ``grubbs_two_high`` or ``grubbs_two_low``.
    groups : tuple of int
        The members (from 0) in question.
    statistic : float or None, scalar [1]
        None where it cannot be tested.
    critical_5, critical_1 : float or None, scalars [1]
        Critical values at 5 and 1 %. For the two-member tests smaller is more extreme.
    verdict : str
        ``correct``, ``straggler``, ``outlier``, or ``untested`` (too few members, or no spread).
    """

    test: str
    groups: tuple[int, ...]
    statistic: float | None
    critical_5: float | None
    critical_1: float | None
    verdict: str

    def to_dict(self) -> dict:
        """The fields as plain JSON values."""
        return {**asdict(self), "groups": list(self.groups)}


def cochran_test(variances: Sequence[float], sizes: Sequence[int]) -> OutlierTest:
    """Whether one member's spread is too great.

    Parameters
    ----------
    variances : sequence of float, shape (p,) [unit squared]
        Variance of each member's readings.
    sizes : sequence of int, shape (p,)
        Readings of each; members with one are passed over, and the mean of the rest is used.

    Returns
    -------
    OutlierTest
    """
    usable = [i for i, size in enumerate(sizes) if size >= 2]
    total = sum(variances[i] for i in usable)
    if len(usable) < 2 or not total > 0:
        return OutlierTest("cochran", (), None, None, None, "untested")
    worst = max(usable, key=lambda i: variances[i])
    size = sum(sizes[i] for i in usable) / len(usable)
    limits = [cochran_critical(len(usable), size, alpha) for alpha in (STRAGGLER, OUTLIER)]
    statistic = float(variances[worst] / total)
    return _judged("cochran", (worst,), statistic, limits, statistic > limits[0], statistic > limits[1])


def grubbs_tests(means: Sequence[float]) -> tuple[OutlierTest, ...]:
    """Whether one member's mean, or two of them on one side, lie too far off.

    Parameters
    ----------
    means : sequence of float, shape (p,) [any unit]
        Mean of each member.

    Returns
    -------
    tuple of OutlierTest
        Highest, lowest, two highest, two lowest.
    """
    means = np.asarray(means, dtype=float)
    return (*(_single(means, side) for side in (1, -1)), *(_pair(means, side) for side in (1, -1)))


def _single(means: np.ndarray, side: int) -> OutlierTest:
    name = "grubbs_high" if side > 0 else "grubbs_low"
    sd = means.std(ddof=1) if means.size > 1 else 0.0
    if means.size < 3 or not sd > 1e-12:
        return OutlierTest(name, (), None, None, None, "untested")
    worst = int(np.argmax(side * means))
    statistic = float(side * (means[worst] - means.mean()) / sd)
    limits = [grubbs_critical(means.size, alpha) for alpha in (STRAGGLER, OUTLIER)]
    return _judged(name, (worst,), statistic, limits, statistic > limits[0], statistic > limits[1])


def _pair(means: np.ndarray, side: int) -> OutlierTest:
    name = "grubbs_two_high" if side > 0 else "grubbs_two_low"
    whole = float(np.sum((means - means.mean()) ** 2)) if means.size else 0.0
    if not 4 <= means.size <= LARGEST_SAMPLE or not whole > 1e-24:
        return OutlierTest(name, (), None, None, None, "untested")
    order = np.argsort(-side * means)
    rest = means[order[2:]]
    statistic = float(np.sum((rest - rest.mean()) ** 2)) / whole
    limits = [grubbs_pair_critical(means.size, alpha) for alpha in (STRAGGLER, OUTLIER)]
    groups = (int(order[0]), int(order[1]))
    return _judged(name, groups, statistic, limits, statistic < limits[0], statistic < limits[1])


def _judged(name, groups, statistic, limits, is_beyond_5, is_beyond_1) -> OutlierTest:
    verdict = "outlier" if is_beyond_1 else "straggler" if is_beyond_5 else "correct"
    return OutlierTest(name, groups, statistic, limits[0], limits[1], verdict)
