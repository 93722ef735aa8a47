"""Near relatives: which stocks are equivalent to a chosen one in every measure, and in what order.

A stock is equivalent when every measure is (intersection-union test), which needs no correction of alpha;
picking the best of many stocks, or judging all pairs, does.

References
----------
Berger, R. L. & Hsu, J. C., Statistical Science 11, 283 (1996), intersection-union, from memory. Lauzon, C.
& Caffo, B., The American Statistician 63, 147 (2009), for all pairs of several stocks.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from curves.sensitometry.comparing.equivalence import EquivalenceResult, Margin, compare_measures, untestable
from curves.sensitometry.measures import Measure, SensitometryError


@dataclass(frozen=True, slots=True)
class Relation:
    """How near a stock stands to the chosen one, over all measures.

    Parameters
    ----------
    stock : str
        Key of the stock.
    results : dict of str to EquivalenceResult
        Measure by measure.
    verdict : str
        ``equivalent`` when every measure is, ``different`` when any is, ``unknown`` when any that is
        not shown cannot be tested, otherwise ``not shown``.
    p_value : float or None, scalar [probability]
        Of the intersection-union test: the greatest of all.
    closeness : float or None, scalar [margins]
        The greatest over the measures; None when any is unknown.
    """

    stock: str
    results: dict[str, EquivalenceResult]
    verdict: str
    p_value: float | None
    closeness: float | None


def combine_results(stock: str, results: Mapping[str, EquivalenceResult]) -> Relation:
    """The intersection-union test over several measures.

    Parameters
    ----------
    stock : str
        Key of the stock.
    results : mapping of str to EquivalenceResult, length k >= 1
        Measure by measure, all at the same alpha.

    Returns
    -------
    Relation
        All must be equivalent for the stock to be; no correction of alpha is needed.
    """
    if not results:
        raise SensitometryError("NO_MEASURES", "Give at least one measure to compare.")
    verdicts = [result.verdict for result in results.values()]
    if all(verdict == "equivalent" for verdict in verdicts):
        verdict = "equivalent"
    else:
        verdict = next((v for v in ("different", "unknown") if v in verdicts), "not shown")
    if "unknown" in verdicts:
        return Relation(stock, dict(results), verdict, None, None)
    greatest_p = max(result.p_value for result in results.values())
    return Relation(stock, dict(results), verdict, greatest_p, max(r.closeness for r in results.values()))


def rank_relatives(
    measures: Mapping[str, Measure],
    others: Mapping[str, Mapping[str, Measure]],
    margins: Mapping[str, Margin],
    alpha: float = 0.05,
) -> tuple[Relation, ...]:
    """Stocks ordered by how nearly they are equivalent to a chosen one.

    Parameters
    ----------
    measures : mapping of str to Measure
        Of the chosen stock.
    others : mapping of str to mapping of str to Measure, k stocks
        Of every other stock.
    margins : mapping of str to Margin
        The measures to compare, each with what counts as the same.
    alpha : float, scalar [probability]
        Level of each one-sided test.

    Returns
    -------
    tuple of Relation, shape (k,)
        Nearest first by ``closeness``; stocks that cannot be tested come last, in the order given.
        Each pair is judged at alpha; see `alpha_for_all_pairs` before naming one out of many.
    """
    if not margins:
        raise SensitometryError("NO_MARGIN", "State a margin for at least one measure.")
    relations = []
    for stock, theirs in others.items():
        results = {}
        for name, margin in margins.items():
            if name in measures and name in theirs:
                results[name] = compare_measures(name, theirs[name], measures[name], margin, alpha)
            else:
                results[name] = untestable(name, alpha, "MISSING_MEASURE")
        relations.append(combine_results(stock, results))
    # Python's sort is stable, so ties and the untestable keep the order given.
    return tuple(sorted(relations, key=lambda r: math.inf if r.closeness is None else r.closeness))


def alpha_for_all_pairs(alpha: float, stocks: int) -> float:
    """Level of each test when all pairs of several stocks are judged, scalar [probability].

    Parameters
    ----------
    alpha : float, scalar [probability]
        Level for the whole.
    stocks : int, scalar [count]
        How many stocks are compared with each other.

    Returns
    -------
    float
        ``alpha / (stocks - 1)``, scalar [probability].
    """
    if not 0 < alpha < 0.5 or stocks < 2:
        raise SensitometryError("IMPOSSIBLE_LEVEL", "Alpha lies between 0 and 0.5, of at least two stocks.")
    return alpha / (stocks - 1)
