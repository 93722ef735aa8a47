"""The comparison: what every stock's standing result says next to the house reference.

Like with like: one process revision and one exposure revision at a time. Whatever is chosen, the
number of queries is the same.
"""

from dataclasses import dataclass

from curves.models import HouseReference, StockResult
from curves.queries.repooling import Repooling, repoolings
from curves.queries.standing import lab_spread_under, overrides_in
from curves.queries.stocks import visible_results
from curves.sensitometry import Analysis, Comparison, compare_with_reference
from labsite.common.errors import NotFound


@dataclass(frozen=True)
class StandardPair:
    """One process and one exposure revision under which stocks can be compared."""

    process_revision_id: int
    exposure_revision_id: int
    process_label: str
    exposure_label: str
    is_in_force: bool
    stock_count: int

    @property
    def ids(self) -> dict[str, int]:
        """The two revisions, as fields of whatever stands under them."""
        return {
            "process_revision_id": self.process_revision_id,
            "exposure_revision_id": self.exposure_revision_id,
        }

    @property
    def key(self) -> str:
        """The pair in addresses."""
        return f"{self.process_revision_id}-{self.exposure_revision_id}"

    @property
    def label(self) -> str:
        """The pair in words."""
        return f"{self.process_label} · {self.exposure_label}"


@dataclass(frozen=True)
class ComparedStock:
    """One line of the comparison; ``comparison`` is None for the reference itself or without one."""

    result: StockResult
    analysis: Analysis
    comparison: Comparison | None
    is_reference: bool
    overrides: tuple[str, ...]

    @property
    def stock(self):
        """The film stock of this line."""
        return self.result.stock


@dataclass(frozen=True)
class ComparisonView:
    """Everything that the Compare page shows for one pair of standards."""

    pairs: tuple[StandardPair, ...]
    pair: StandardPair | None
    reference: ComparedStock | None
    stocks: tuple[ComparedStock, ...]
    missing: tuple[str, ...]
    lab_spread: dict
    repoolings: tuple[Repooling, ...] = ()


def standard_pairs(user) -> tuple[StandardPair, ...]:
    """Return the pairs of standards with results, those in force first, fullest first."""
    counts: dict[tuple, int] = {}
    results = visible_results(user).values_list(
        "process_revision_id",
        "exposure_revision_id",
        "process_revision__standard__name",
        "process_revision__number",
        "process_revision__state",
        "exposure_revision__standard__name",
        "exposure_revision__number",
        "exposure_revision__state",
    )
    for row in results:
        counts[row] = counts.get(row, 0) + 1
    pairs = [
        StandardPair(
            process_revision_id=row[0],
            exposure_revision_id=row[1],
            process_label=f"{row[2]}, revision {row[3]}",
            exposure_label=f"{row[5]}, revision {row[6]}",
            is_in_force=row[4] == row[7] == "in_force",
            stock_count=count,
        )
        for row, count in counts.items()
    ]
    return tuple(sorted(pairs, key=lambda pair: (not pair.is_in_force, -pair.stock_count, pair.label)))


def comparison_view(user, *, pair_key: str = "", wanted_stock_ids: tuple[int, ...] = ()) -> ComparisonView:
    """Return every stock's result under one pair of standards next to that pair's house reference.

    ``missing`` says in words why a wanted stock is not there.
    """
    pairs = standard_pairs(user)
    pair = _chosen(pairs, pair_key)
    if pair is None:
        return ComparisonView(pairs, None, None, (), (), {})
    results = list(visible_results(user).filter(**pair.ids).order_by("stock__name", "stock__maker"))
    analyses = {result.stock_id: Analysis.from_dict(result.pooled.as_dict()) for result in results}
    reference_id = _reference_stock_id(pair)
    spread = lab_spread_under(**pair.ids)
    overrides = overrides_in(results)
    stocks = tuple(
        ComparedStock(
            result=result,
            analysis=analyses[result.stock_id],
            comparison=_comparison(analyses, result.stock_id, reference_id, spread),
            is_reference=result.stock_id == reference_id,
            overrides=overrides.get(result.stock_id, ()),
        )
        for result in results
    )
    return ComparisonView(
        pairs=pairs,
        pair=pair,
        reference=next((stock for stock in stocks if stock.is_reference), None),
        stocks=stocks,
        missing=_missing(user, pair, wanted_stock_ids, set(analyses)),
        lab_spread=spread,
        repoolings=repoolings((result.stock for result in results), **pair.ids),
    )


def _chosen(pairs: tuple[StandardPair, ...], key: str) -> StandardPair | None:
    if not key:
        return pairs[0] if pairs else None
    chosen = next((pair for pair in pairs if pair.key == key), None)
    if chosen is None:
        raise NotFound(
            "No stock has a result under these standards, or they are not open to you.", field="standards"
        )
    return chosen


def _reference_stock_id(pair: StandardPair) -> int | None:
    return (
        HouseReference.objects.filter(**pair.ids, ended_at__isnull=True)
        .values_list("stock_id", flat=True)
        .first()
    )


def _comparison(
    analyses: dict[int, Analysis], stock_id: int, reference_id: int | None, spread: dict
) -> Comparison | None:
    if reference_id not in analyses or stock_id == reference_id:
        return None
    return compare_with_reference(
        analyses[stock_id], analyses[reference_id], lab_spread=spread["standard_deviations"]
    )


def _missing(user, pair: StandardPair, wanted: tuple[int, ...], present: set[int]) -> tuple[str, ...]:
    absent = [stock_id for stock_id in wanted if stock_id not in present]
    if not absent:
        return ()
    elsewhere: dict[str, list[str]] = {}
    for result in visible_results(user).filter(stock_id__in=absent):
        elsewhere.setdefault(str(result.stock), []).append(
            f"{result.process_revision} · {result.exposure_revision}"
        )
    return tuple(
        f"{name} is left out: it has no accepted roll under {pair.label}, only under {'; '.join(places)}. "
        "Results under different standards can't be compared."
        for name, places in elsewhere.items()
    )
