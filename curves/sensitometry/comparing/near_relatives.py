"""Near relatives among a lab's stocks, film by film: which could be one emulsion, which could stand in.

Each roll's speed, contrast and shape are taken against one anchor, the house reference, whose own error so
drops out between two stocks. The means of two stocks are held apart by the spread of rolls within stocks,
pooled over all stocks at hand: the unit of observation is an independently exposed and processed roll. Of
a stock with a single roll the difference is told, with the interval that this spread gives it, but nothing
is claimed: whether its rolls differ no more than those of others, no roll has shown.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from curves.sensitometry.analysis import Analysis
from curves.sensitometry.comparing.comparison import compare_with_reference
from curves.sensitometry.comparing.equivalence import (
    LEAST_FILMS,
    EquivalenceResult,
    Margin,
    equivalence_from_summary,
    untestable,
    without_verdict,
)
from curves.sensitometry.comparing.lab_spread import FEWEST_DEGREES_OF_FREEDOM
from curves.sensitometry.comparing.relatives import Relation, combine_results

# What counts as the same, unless the lab says otherwise (house choice): 0.3 stop, less than the third that a
# camera steps by; 7 % of contrast; 0.02 D of shape in each part.
RELATIVE_MARGINS = {
    "speed_shift_stops": Margin(0.30),
    "contrast_ratio": Margin(0.07, is_ratio=True),
    "toe_difference": Margin(0.02),
    "middle_difference": Margin(0.02),
    "highlight_difference": Margin(0.02),
}
SAME, STAND_IN, OTHER, OPEN = "could be the same emulsion", "could stand in", "different", "not shown"
KINDS = (SAME, STAND_IN, OTHER, OPEN)


@dataclass(frozen=True, slots=True)
class Kinship:
    """How two stocks stand to each other.

    Parameters
    ----------
    relation : Relation
        Two one-sided tests in every measure, and all together.
    kind : str
        One of ``KINDS``.
    differing : tuple of str
        Measures that are shown to differ by more than the margin.
    untested : tuple of str
        Measures that could not be tested.
    """

    relation: Relation
    kind: str
    differing: tuple[str, ...]
    untested: tuple[str, ...]

    @property
    def is_of_too_few(self) -> bool:
        """Whether nothing is claimed because there are too few rolls."""
        return all(
            result.is_without_verdict or result.difference.reason == "TOO_FEW_FILMS"
            for result in self.relation.results.values()
        )

    @property
    def slightly_differing(self) -> tuple[str, ...]:
        """Measures that are alike within the margin and yet shown to differ.

        Ordinary tests for a difference, at 5 % over all measures together (Bonferroni).
        """
        results = self.relation.results
        level = 0.05 / len(results)
        return tuple(
            name
            for name, result in results.items()
            if result.verdict == "equivalent" and result.difference_p_value < level
        )


def roll_differences(roll: Analysis, anchor: Analysis) -> dict[str, float | None]:
    """One roll's differences from the anchor.

    Parameters
    ----------
    roll, anchor : Analysis
        A single roll; the house reference or any other stock, the same for all rolls.

    Returns
    -------
    dict of str to (float or None)
        ``speed_shift_stops`` [stop], natural log of ``contrast_ratio`` [1] and the parts of the shape [D];
        None where it is withheld.
    """
    found = compare_with_reference(roll, anchor, with_curves=False).measures
    values = {name: found[name].value for name in RELATIVE_MARGINS}
    ratio = values["contrast_ratio"]
    return values | {"contrast_ratio": None if ratio is None else math.log(ratio)}


def spread_within(stocks: Sequence[Sequence[Mapping[str, float | None]]]) -> dict[str, tuple[float, int]]:
    """Spread of rolls within stocks, reading error included, pooled over stocks.

    Parameters
    ----------
    stocks : sequence of sequence of mapping, k stocks of any number of rolls
        What `roll_differences` gave for each roll [stop, 1, D].

    Returns
    -------
    dict of str to (float, int)
        Standard deviation of one roll [unit of the measure] and its degrees of freedom [count]; a measure
        is missing where fewer than four degrees of freedom tell.
    """
    found = {}
    for name in RELATIVE_MARGINS:
        groups = [_values(rolls, name) for rolls in stocks]
        groups = [group for group in groups if group.size >= LEAST_FILMS]
        freedom = sum(group.size - 1 for group in groups)
        if freedom >= FEWEST_DEGREES_OF_FREEDOM:
            squares = sum(float(((group - group.mean()) ** 2).sum()) for group in groups)
            found[name] = (math.sqrt(squares / freedom), freedom)
    return found


def judge_kinship(
    stock: str,
    rolls: Sequence[Mapping[str, float | None]],
    other_rolls: Sequence[Mapping[str, float | None]],
    spread: Mapping[str, tuple[float, int]],
    margins: Mapping[str, Margin] | None = None,
    alpha: float = 0.05,
) -> Kinship:
    """How a stock stands to another one.

    Parameters
    ----------
    stock : str
        Key of the stock.
    rolls, other_rolls : sequence of mapping, n and m rolls
        What `roll_differences` gave for the stock and for the other [stop, 1, D].
    spread : mapping of str to (float, int) [unit of the measure, degrees of freedom]
        What `spread_within` gave.
    margins : mapping of str to Margin, optional
        What counts as the same; `RELATIVE_MARGINS` unless given.
    alpha : float, scalar [probability]
        Level of each one-sided test.

    Returns
    -------
    Kinship
        The same emulsion is claimed to be possible only where every measure is equivalent. A stock could
        stand in where contrast is equivalent and no part of the shape is shown to differ: exposure makes
        up for speed. Of all pairs that differ by just the margin, up to a share of alpha may pass. With
        fewer than two rolls of either stock a measure has a difference, but no verdict.
    """
    margins = margins or RELATIVE_MARGINS
    results = {
        name: _judge(name, rolls, other_rolls, spread.get(name), margin, alpha)
        for name, margin in margins.items()
    }
    relation = combine_results(stock, results)
    differing = tuple(name for name, result in results.items() if result.verdict == "different")
    untested = tuple(name for name, result in results.items() if result.verdict == "unknown")
    return Kinship(relation, _kind(relation, differing), differing, untested)


def _judge(name, rolls, other_rolls, spread, margin, alpha) -> EquivalenceResult:
    ours, theirs = _values(rolls, name), _values(other_rolls, name)
    fewest = min(ours.size, theirs.size)
    note = _too_few(len(rolls), len(other_rolls), ours.size, theirs.size) if fewest < LEAST_FILMS else ""
    if not fewest or (note and spread is None):
        return untestable(name, alpha, "TOO_FEW_FILMS", note)
    if spread is None:
        return untestable(
            name, alpha, "NO_INTERVAL", "too few stocks with several rolls to know their spread"
        )
    sd, freedom = spread
    error = sd * math.sqrt(1 / ours.size + 1 / theirs.size)
    difference = float(ours.mean() - theirs.mean())
    result = equivalence_from_summary(name, difference, error, freedom, margin, alpha)
    return without_verdict(result, note) if note else result


def _too_few(rolls: int, other_rolls: int, told: int, other_told: int) -> str:
    """Why there are too few: not enough rolls, or not enough of them that tell this measure."""
    counts, told_by = f"{rolls} and {other_rolls} rolls", ""
    if min(rolls, other_rolls) >= LEAST_FILMS:
        counts, told_by = f"{told} and {other_told} rolls", " tell it"
    return f"{counts}{told_by}; two of each are needed"


def _kind(relation: Relation, differing: tuple[str, ...]) -> str:
    if relation.verdict == "equivalent":
        return SAME
    is_contrast_alike = relation.results["contrast_ratio"].verdict == "equivalent"
    if is_contrast_alike and not set(differing) - {"speed_shift_stops"}:
        return STAND_IN
    return OTHER if differing else OPEN


def _values(rolls, name: str) -> np.ndarray:
    return np.array([roll[name] for roll in rolls if roll.get(name) is not None], dtype=float)
