"""What cannot be bettered: the stocks that no other beats in both of two goals, with their intervals in mind.

A stock is *beaten* where another is at least as good in both goals and better in one. Values are uncertain,
so each stock has a best corner (both intervals at their good ends) and a worst one. It is on the frontier
for certain where not even the best corner of another beats its worst; off it for certain where the worst
corner of another beats its best; and possibly on it otherwise.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from curves.sensitometry.measures import SensitometryError

CERTAIN, POSSIBLE, BEATEN = "on", "possible", "off"


@dataclass(frozen=True, slots=True)
class Frontier:
    """Which points cannot be bettered.

    Parameters
    ----------
    verdicts : tuple of str, length n
        ``on``, ``possible`` or ``off`` of each point.
    best : tuple of int
        Points that none beats by the values alone, ordered by the first goal.
    edge, sure_edge, hoped_edge : ndarray, shape (k, 2) [units of the goals]
        Corners of the step line through the values, and through the worst and the best ends: what is
        reached for certain, and what may be reached at most.
    """

    verdicts: tuple[str, ...]
    best: tuple[int, ...]
    edge: np.ndarray
    sure_edge: np.ndarray
    hoped_edge: np.ndarray


def frontier_of(values, low, high, *, is_more_better: tuple[bool, bool]) -> Frontier:
    """Find the points that cannot be bettered.

    Parameters
    ----------
    values, low, high : array_like, shape (n, 2) [units of the goals]
        Of each point both numbers, and the ends of their intervals.
    is_more_better : tuple of bool
        Of each goal whether a greater number is the better one.

    Returns
    -------
    Frontier

    Raises
    ------
    SensitometryError
        When shapes differ, or a number is missing or outside its interval.

    Notes
    -----
    With 95 % intervals both certain verdicts are at least 95 % sure against any one other point: of two
    apart intervals the order is wrong in at most 2.5 % of cases, and being beaten needs two such orders.
    Nothing is said of all points jointly. Two equal points do not beat each other.

    Examples
    --------
    A fast coarse stock, a slow fine one, and one that is slower and coarser than the first:

    >>> found = frontier_of([[400, 14], [100, 9], [300, 16]], [[360, 13], [90, 8], [270, 15]],
    ...                     [[440, 15], [110, 10], [370, 17]], is_more_better=(True, False))
    >>> found.verdicts, found.best
    (('on', 'on', 'possible'), (1, 0))
    """
    values, low, high = (np.asarray(each, dtype=float).reshape(-1, 2) for each in (values, low, high))
    _check(values, low, high)
    sign = np.where(is_more_better, 1.0, -1.0)
    middle, ends = values * sign, (low * sign, high * sign)
    worst, best = np.minimum(*ends), np.maximum(*ends)
    is_off = _beaten(best, worst)
    is_on = ~_beaten(worst, best, but_itself=True)
    verdicts = np.where(is_off, BEATEN, np.where(is_on, CERTAIN, POSSIBLE))
    return Frontier(
        verdicts=tuple(verdicts.tolist()),
        best=_ordered(middle, values),
        edge=_steps(middle) * sign,
        sure_edge=_steps(worst) * sign,
        hoped_edge=_steps(best) * sign,
    )


def _check(values, low, high) -> None:
    if not values.shape == low.shape == high.shape:
        raise SensitometryError("BAD_SHAPE", "Give one interval for each value.")
    if not np.all(np.isfinite(values) & (low <= values) & (values <= high)):
        raise SensitometryError("NOT_FINITE", "Give finite values that lie within their intervals.")


def _beaten(points, others, *, but_itself: bool = False) -> np.ndarray:
    """Whether some other beats each point: at least as good in both goals, better in one; shape (n,)."""
    at_least = np.all(others[None] >= points[:, None], axis=2)
    better = np.any(others[None] > points[:, None], axis=2)
    beats = at_least & better
    if but_itself:
        np.fill_diagonal(beats, val=False)
    return beats.any(axis=1)


def _ordered(middle, values) -> tuple[int, ...]:
    left = np.flatnonzero(~_beaten(middle, middle))
    return tuple(int(each) for each in left[np.lexsort((values[left, 1], values[left, 0]))])


def _steps(points) -> np.ndarray:
    """Corners of the line that parts what is reached from what is not: from good in the second goal on."""
    if not len(points):
        return np.zeros((0, 2))
    left = np.unique(points[~_beaten(points, points)], axis=0)
    corners = [left[0]]
    for before, after in pairwise(left):
        corners += [[before[0], after[1]], after]
    return np.array(corners)
