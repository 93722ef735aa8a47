"""How much a lab's rolls of one and the same stock differ: the yardstick for 'real'.

For every stock with several rolls the rolls are compared pair by pair; the squared differences, less what
reading error alone gives, are pooled over all stocks as within-group sums of squares.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

from scipy.special import stdtrit

from curves.sensitometry.analysis import Analysis
from curves.sensitometry.comparing.comparison import compare_with_reference
from curves.sensitometry.measures import Measure
from curves.sensitometry.measuring.row_summaries import NORMAL_95

# With fewer degrees of freedom the factor for not knowing the spread passes 1.4, and a verdict would
# rest on little but that factor. House choice.
FEWEST_DEGREES_OF_FREEDOM = 4
SPREAD_MEASURES = {
    "speed_stops": ("speed_shift_stops",),
    "contrast_ratio": ("contrast_ratio",),
    "shape": ("toe_difference", "middle_difference", "highlight_difference"),
    "base": ("base_difference",),
}
NO_DIFFERENCE = {"contrast_ratio": 1.0}


@dataclass(frozen=True, slots=True)
class LabSpread:
    """Roll-to-roll spread of a lab under one pair of standards.

    Parameters
    ----------
    standard_deviations : dict of str to float
        Standard deviation of one roll: ``speed_stops`` [stop], ``contrast_ratio`` [1], ``shape`` [D],
        ``base`` [D]; a name is missing where too few rolls tell. Each is widened by Student's t over
        the normal quantile, for being estimated from few rolls.
    degrees_of_freedom : dict of str to int
        Rolls less stocks that each rests on.
    """

    standard_deviations: dict[str, float]
    degrees_of_freedom: dict[str, int]

    def to_dict(self) -> dict:
        """A JSON-safe dictionary."""
        return {
            "standard_deviations": dict(self.standard_deviations),
            "degrees_of_freedom": dict(self.degrees_of_freedom),
        }


def estimate_lab_spread(stocks: Sequence[Sequence[Analysis]]) -> LabSpread:
    """Estimate the spread from roll to roll.

    Parameters
    ----------
    stocks : sequence of sequence of Analysis
        The single-roll analyses of each stock, all under the same standards. Stocks with one roll say
        nothing here and are passed over.

    Returns
    -------
    LabSpread
        In stops, ratio and density.

    Notes
    -----
    With n rolls of a stock, the sum over pairs of d²/n is (n - 1) times the variance between rolls plus
    the reading variance, which is taken off; a negative remainder counts as no spread.
    """
    sums = {name: [0.0, 0] for name in SPREAD_MEASURES}
    for rolls in stocks:
        pairs = [compare_with_reference(*pair).measures for pair in combinations(rolls, 2)]
        for name, measures in SPREAD_MEASURES.items():
            for measure in measures:
                _add_pairs(sums[name], [pair[measure] for pair in pairs], len(rolls))
    # The parts of a shape share their rolls, so they make its spread no better known than one of them.
    freedoms = {name: count // len(SPREAD_MEASURES[name]) for name, (_, count) in sums.items()}
    return LabSpread(
        standard_deviations={
            name: round((max(total, 0.0) / count) ** 0.5 * _widening(freedoms[name]), 6)
            for name, (total, count) in sums.items()
            if freedoms[name] >= FEWEST_DEGREES_OF_FREEDOM
        },
        degrees_of_freedom=freedoms,
    )


def _add_pairs(total: list, differences: list[Measure], roll_count: int) -> None:
    """Add one stock's sum of squares, unless a roll lacks the measure or its interval."""
    if not differences or any(None in (each.value, each.low, each.high) for each in differences):
        return
    for each in differences:
        reading_sd = (each.high - each.low) / (2.0 * NORMAL_95)
        difference = each.value - NO_DIFFERENCE.get(each.name, 0.0)
        total[0] += (difference**2 - reading_sd**2) / roll_count
    total[1] += roll_count - 1


def _widening(freedom: int) -> float:
    return float(stdtrit(freedom, 0.975)) / NORMAL_95
