"""The comparison: what every stock's standing result says next to the house reference.

Like with like: one process revision and one exposure revision at a time, unless mixing was asked for; what
is mixed in then says under which standards it stands, and no verdict is given on it. Whatever is chosen, the
number of queries is the same, and only the stocks of the sheet are loaded.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from django.db.models import Count, OuterRef, Subquery

from curves.models import HouseReference, StockResult
from curves.queries.comparison_rows import Catalogue, RowChoice, catalogue
from curves.queries.frame_costs import FrameCost, FrameCosts, frame_costs
from curves.queries.picture_measures import LabPictures, lab_pictures
from curves.queries.repooling import Repooling, repoolings
from curves.queries.spread_inputs import roll_path, spread_between
from curves.queries.standing import lab_spread_under, overrides_of, rolls_behind
from curves.queries.stocks import visible_results
from curves.sensitometry import Analysis, Comparison, Measure, compare_with_reference
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
    reference_stock_id: int | None = None

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
    """One line of the comparison; ``comparison`` is None for the reference itself or without one.

    ``other_standards`` names the standards of a result that was mixed in; "" where like stands by like.
    ``pictures`` holds grain and sharpness as far as they compare; empty for what was mixed in. ``cost`` is
    looked up for a sheet of stocks only; None as well where no price was entered.
    """

    result: StockResult
    analysis: Analysis
    comparison: Comparison | None
    is_reference: bool
    overrides: tuple[str, ...]
    other_standards: str = ""
    pictures: Mapping[str, Measure] = field(default_factory=dict)
    cost: FrameCost | None = None

    @property
    def stock(self):
        """The film stock of this line."""
        return self.result.stock

    @property
    def measures(self) -> dict[str, Measure]:
        """All measures of the stock's own: of its curve and of its pictures."""
        return {**self.analysis.measures, **self.pictures}


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
    catalogue: Catalogue | None = None
    costs: FrameCosts | None = None
    #: Wanted stocks that are none, or have no result that is open to this person.
    unknown: tuple[int, ...] = ()

    @property
    def mixed(self) -> tuple[ComparedStock, ...]:
        """Stocks whose result stands under other standards than the rest."""
        return tuple(stock for stock in self.stocks if stock.other_standards)

    @property
    def corrected(self) -> tuple[ComparedStock, ...]:
        """Stocks with readings whose instrument is corrected: that error is taken as each one's own."""
        return tuple(stock for stock in self.stocks if stock.analysis.corrected_by)


def standard_pairs(user) -> tuple[StandardPair, ...]:
    """Return the pairs of standards with results, those in force first, fullest first."""
    names = (
        "process_revision_id",
        "exposure_revision_id",
        "process_revision__standard__name",
        "process_revision__number",
        "process_revision__state",
        "exposure_revision__standard__name",
        "exposure_revision__number",
        "exposure_revision__state",
    )
    reference = HouseReference.objects.filter(
        process_revision_id=OuterRef("process_revision_id"),
        exposure_revision_id=OuterRef("exposure_revision_id"),
        ended_at__isnull=True,
    )
    counted = visible_results(user).order_by().values_list(*names)
    counted = counted.annotate(stocks=Count("pk"), reference=Subquery(reference.values("stock_id")[:1]))
    pairs = [
        StandardPair(
            process_revision_id=row[0],
            exposure_revision_id=row[1],
            process_label=f"{row[2]}, revision {row[3]}",
            exposure_label=f"{row[5]}, revision {row[6]}",
            is_in_force=row[4] == row[7] == "in_force",
            stock_count=row[8],
            reference_stock_id=row[9],
        )
        for row in counted
    ]
    return tuple(sorted(pairs, key=lambda pair: (not pair.is_in_force, -pair.stock_count, pair.label)))


def chosen_pair(pairs: tuple[StandardPair, ...], key: str) -> StandardPair | None:
    """Return the pair of an address, the first where it names none; NotFound that names an unknown one."""
    if not key:
        return pairs[0] if pairs else None
    chosen = next((pair for pair in pairs if pair.key == key), None)
    if chosen is None:
        raise NotFound(
            f"The address asks for the standards “{key}”. No stock has a result under them, or they are not"
            " open to you.",
            field="standards",
        )
    return chosen


def comparison_view(
    user,
    *,
    pair_key: str = "",
    wanted_stock_ids: tuple[int, ...] = (),
    choice: RowChoice | None = None,
    is_mixing: bool = False,
    with_curves: bool = True,
    is_only_wanted: bool = False,
) -> ComparisonView:
    """Return stocks' results under one pair of standards next to that pair's house reference.

    All stocks, those of one sheet by ``choice``, or the wanted ones alone. ``missing`` says in words why a
    wanted stock is not there; with ``is_mixing`` it is there, from the pair of standards that would be
    offered first.
    """
    pairs = standard_pairs(user)
    pair = chosen_pair(pairs, pair_key)
    if pair is None:
        return ComparisonView(pairs, None, None, (), (), {})
    reference_id = pair.reference_stock_id
    pictures = lab_pictures(pair.ids) if choice and choice.picture_names else None
    listed = catalogue(user, pair, choice, reference_id=reference_id, pictures=pictures) if choice else None
    shown = listed.shown if listed else wanted_stock_ids if is_only_wanted else None
    results = _results(user, pair, shown, reference_id)
    pictures = pictures or lab_pictures(pair.ids, stock_ids=[result.stock_id for result in results])
    absent = set(wanted_stock_ids) - {result.stock_id for result in results}
    absent -= choice.hidden if choice else set()
    elsewhere = _elsewhere(user, absent, pairs)
    strangers = {result.pk for result in elsewhere.values()} if is_mixing else set()
    results += elsewhere.values() if is_mixing else ()
    spread = lab_spread_under(**pair.ids)
    stocks = _compared(results, strangers, reference_id, spread, pictures, with_curves)
    costs = _costs(stocks, choice, listed) if choice else None
    if costs:
        stocks = tuple(replace(each, cost=costs.by_stock.get(each.stock.pk)) for each in stocks)
    return ComparisonView(
        pairs=pairs,
        pair=pair,
        reference=next((stock for stock in stocks if stock.is_reference), None),
        stocks=stocks,
        missing=() if is_mixing else _missing(pair, elsewhere),
        lab_spread=spread,
        repoolings=repoolings((result.stock for result in results if result.pk not in strangers), **pair.ids),
        catalogue=listed,
        costs=costs,
        unknown=tuple(sorted(absent - set(elsewhere))),
    )


def _costs(stocks: tuple[ComparedStock, ...], choice: RowChoice, listed: Catalogue) -> FrameCosts:
    """What was looked up of all stocks, so that costs are told as they are ordered; else of these alone."""
    film_format = choice.wanted.format
    return listed.costs or frame_costs([each.stock.pk for each in stocks], film_format=film_format)


def _results(user, pair: StandardPair, shown: tuple[int, ...] | None, reference_id) -> list[StockResult]:
    results = visible_results(user).filter(**pair.ids).order_by("stock__name", "stock__maker")
    if shown is not None:
        results = results.filter(stock_id__in=[*shown, reference_id])
    return list(results)


def _compared(
    results: list[StockResult],
    strangers: set[int],
    reference_id: int | None,
    spread: dict,
    pictures: LabPictures,
    with_curves: bool,
) -> tuple[ComparedStock, ...]:
    analyses = {result.pk: Analysis.from_dict(result.pooled.as_dict()) for result in results}
    own = [result for result in results if result.pk not in strangers]
    against = next((analyses[result.pk] for result in own if result.stock_id == reference_id), None)
    rolls = rolls_behind([result.pooled_id for result in results])
    paths = {pooled_id: [roll_path(roll) for roll in behind] for pooled_id, behind in rolls.items()}
    theirs = next((paths.get(result.pooled_id, []) for result in own if result.stock_id == reference_id), [])
    stocks = []
    for result in results:
        is_stranger = result.pk in strangers
        is_reference = result.stock_id == reference_id and not is_stranger
        comparison = None
        if against is not None and not is_reference:
            # How far rolls differ under one pair of standards says nothing across two.
            known = {} if is_stranger else spread_between(spread, paths.get(result.pooled_id, []), theirs)
            comparison = compare_with_reference(
                analyses[result.pk],
                against,
                lab_spread=known,
                with_curves=with_curves,
                is_like_with_like=not is_stranger,
            )
        stocks.append(
            ComparedStock(
                result=result,
                analysis=analyses[result.pk],
                comparison=comparison,
                is_reference=is_reference,
                overrides=overrides_of(rolls.get(result.pooled_id, ())),
                other_standards=_standards_of(result) if is_stranger else "",
                pictures={} if is_stranger else pictures.measures_of(result.stock_id),
            )
        )
    return tuple(stocks)


def _elsewhere(user, absent: set[int], pairs: tuple[StandardPair, ...]) -> dict[int, StockResult]:
    """For each absent stock its result under the pair of standards that is offered first."""
    if not absent:
        return {}
    place = {pair.key: number for number, pair in enumerate(pairs)}
    results = visible_results(user).filter(stock_id__in=absent)
    return {result.stock_id: result for result in sorted(results, key=lambda each: -place[_key(each)])}


def _key(result: StockResult) -> str:
    return f"{result.process_revision_id}-{result.exposure_revision_id}"


def _standards_of(result: StockResult) -> str:
    return f"{result.process_revision} · {result.exposure_revision}"


def _missing(pair: StandardPair, elsewhere: dict[int, StockResult]) -> tuple[str, ...]:
    return tuple(
        f"{result.stock} is left out: it has no accepted roll under {pair.label}, only under "
        f"{_standards_of(result)}. Results under different standards can't be compared."
        for result in sorted(elsewhere.values(), key=lambda each: each.stock.name)
    )
