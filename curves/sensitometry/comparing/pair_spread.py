"""What the lab's spread adds to the difference of two results, by what their rolls have in common.

Rolls that one member developed share what is that member's, rolls of one run share what is that run's; what
is shared by both sides of a difference cancels, as far as it is shared.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

LEVELS_OF_ROLLS = ("member", "run", "roll")


class RollPath(NamedTuple):
    """Who developed a roll, in which run, and the roll itself."""

    member: str
    run: str
    roll: str

    def group(self, level: str) -> tuple[str, ...]:
        """The group of a level that the roll is in.

        Parameters
        ----------
        level : str
            ``member``, ``run`` or ``roll``.

        Returns
        -------
        tuple of str
            The labels down to this level.
        """
        return tuple(self[: LEVELS_OF_ROLLS.index(level) + 1])


@dataclass(frozen=True, slots=True)
class PairSpread:
    """Variances that the lab's spread gives to two means and to what they share.

    Parameters
    ----------
    test, reference : float, scalars [unit squared]
        Variance of either mean by itself.
    shared : float, scalar [unit squared]
        Covariance of the two; twice as much cancels in their difference.
    """

    test: float
    reference: float
    shared: float = 0.0


def pair_spreads(
    levels: Mapping[str, Mapping[str, float]], test: Sequence[RollPath], reference: Sequence[RollPath]
) -> dict[str, PairSpread]:
    """The spread that a comparison has to reckon with, by name.

    Parameters
    ----------
    levels : mapping of str to mapping of str to float
        ``LabSpread.levels``: standard deviation [unit of the spread] by level.
    test, reference : sequence of RollPath
        The rolls that either result is the mean of, each counted alike.

    Returns
    -------
    dict of str to PairSpread
        Empty where either side has no roll.

    Examples
    --------
    >>> ours, theirs = [RollPath("a", "1", "10")], [RollPath("a", "1", "11")]
    >>> found = pair_spreads({"base": {"run": 0.02, "roll": 0.01}}, ours, theirs)["base"]
    >>> round(found.test + found.reference - 2 * found.shared, 6)
    0.0002
    """
    if not test or not reference:
        return {}
    return {name: _pair_spread(sds, test, reference) for name, sds in levels.items()}


def _pair_spread(sds: Mapping[str, float], test, reference) -> PairSpread:
    ours = theirs = shared = 0.0
    for level, sd in sds.items():
        mine, other = (_shares(rolls, level) for rolls in (test, reference))
        ours += sd**2 * sum(share**2 for share in mine.values())
        theirs += sd**2 * sum(share**2 for share in other.values())
        shared += sd**2 * sum(share * other.get(group, 0.0) for group, share in mine.items())
    return PairSpread(ours, theirs, shared)


def _shares(rolls: Iterable[RollPath], level: str) -> dict[tuple[str, ...], float]:
    """How much of a mean each group has."""
    counts = Counter(roll.group(level) for roll in rolls)
    total = sum(counts.values())
    return {group: count / total for group, count in counts.items()}
