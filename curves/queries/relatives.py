"""Near relatives: how stocks stand to one another, roll by roll, within the lab's margins.

From light lines of all stocks the nearest are picked; only their rolls are loaded and compared.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from curves.models import Analysis as RollAnalysis
from curves.models import EquivalenceMargins, FilmStock, HouseReference, PooledAnalysis, StockResult
from curves.queries.comparison import StandardPair, chosen_pair, standard_pairs
from curves.queries.comparison_rows import CONTRAST, measured
from curves.queries.comparisons_kept import margins_in_force
from curves.queries.stocks import visible_results, visible_stocks
from curves.sensitometry import Analysis
from curves.sensitometry.comparing.equivalence import LEAST_FILMS, Margin
from curves.sensitometry.comparing.near_relatives import (
    RELATIVE_MARGINS,
    SAME,
    STAND_IN,
    Kinship,
    judge_kinship,
    roll_differences,
    spread_within,
)
from curves.sensitometry.comparing.similarity_map import SimilarityMap, measure_distances, similarity_map
from curves.sensitometry.speed_scale import STOP
from labsite.common.errors import NotFound

NEAREST = 30
MOST_ON_MAP = 120
MOST_JUDGED = 24
SPEED_POINT = "speed_point_log_exposure"
# Speed counts for little in picking the nearest: exposure makes up for it, and a stand-in may differ there.
SPEED_WEIGHT = 0.25


@dataclass(frozen=True)
class Relative:
    """A stock and how it stands to the chosen one; differences are of the chosen less this one's."""

    result: StockResult
    kinship: Kinship


@dataclass(frozen=True)
class RelativesView:
    """What the page of a stock's relatives shows."""

    stock: FilmStock
    pairs: tuple[StandardPair, ...]
    pair: StandardPair | None
    result: StockResult | None
    relatives: tuple[Relative, ...]
    others_count: int
    anchor: str
    margins: dict[str, Margin]
    set_margins: EquivalenceMargins | None
    spread: dict[str, tuple[float, int]]


@dataclass(frozen=True)
class KinPair:
    """Two stocks of the map and how they stand to each other."""

    first: StockResult
    second: StockResult
    kinship: Kinship


@dataclass(frozen=True)
class MapView:
    """What the map of all stocks shows; ``places`` in the order of ``results``."""

    pairs: tuple[StandardPair, ...]
    pair: StandardPair | None
    results: tuple[StockResult, ...]
    left_out: tuple[StockResult, ...]
    found: SimilarityMap | None
    anchor: str
    reference_id: int | None
    kin: tuple[KinPair, ...]
    judged_count: int
    total: int
    margins: dict[str, Margin]
    set_margins: EquivalenceMargins | None

    @property
    def beyond_count(self) -> int:
        """Stocks that were left off, since a map of more cannot be read."""
        return self.total - len(self.results) - len(self.left_out)


def lab_margins(in_force: EquivalenceMargins | None) -> dict[str, Margin]:
    """Return what counts as the same in this lab."""
    if in_force is None:
        return dict(RELATIVE_MARGINS)
    shape = Margin(in_force.shape_density)
    return {
        "speed_shift_stops": Margin(in_force.speed_stops),
        "contrast_ratio": Margin(in_force.contrast_share, is_ratio=True),
        "toe_difference": shape,
        "middle_difference": shape,
        "highlight_difference": shape,
    }


def relatives_of(user, stock_id: int, *, pair_key: str = "") -> RelativesView:
    """Return how the nearest stocks stand to a chosen one, under one pair of standards."""
    stock = visible_stocks(user).filter(pk=stock_id).first()
    if stock is None:
        raise NotFound("There is no such stock, or it is not open to you.")
    own = visible_results(user).filter(stock_id=stock_id).defer("pooled__detail")
    keys = {f"{each.process_revision_id}-{each.exposure_revision_id}": each for each in own}
    pairs = tuple(pair for pair in standard_pairs(user) if pair.key in keys)
    pair = chosen_pair(pairs, pair_key)
    in_force = margins_in_force()
    margins = lab_margins(in_force)
    if pair is None:
        return RelativesView(stock, pairs, None, None, (), 0, "", margins, in_force, {})
    lines = _lines(user, pair)
    near = _nearest(lines, stock_id, margins)
    anchor_name, anchor, _ = _anchor(pair, stock_id)
    results = {result.stock_id: result for result in _light_results(user, pair, [*near, stock_id])}
    rolls = _rolls_by_stock(results.values(), anchor)
    spread = spread_within(list(rolls.values()))
    relatives = [
        Relative(results[pk], judge_kinship(str(pk), rolls[stock_id], rolls[pk], spread, margins))
        for pk in near
        if pk in results
    ]
    # Sorting keeps the order of what has no closeness: nearest first, as they were picked.
    relatives.sort(key=lambda each: (_rank(each.kinship), _closeness(each.kinship)))
    return RelativesView(
        stock=stock,
        pairs=pairs,
        pair=pair,
        result=results[stock_id],
        relatives=tuple(relatives),
        others_count=len(lines) - 1,
        anchor=anchor_name,
        margins=margins,
        set_margins=in_force,
        spread=spread,
    )


def map_of_stocks(user, *, pair_key: str = "") -> MapView:
    """Return all stocks under a pair of standards by similarity, and which of them are near relatives."""
    pairs = standard_pairs(user)
    pair = chosen_pair(pairs, pair_key)
    in_force = margins_in_force()
    margins = lab_margins(in_force)
    if pair is None:
        return MapView(pairs, None, (), (), None, "", None, (), 0, 0, margins, in_force)
    lines = _lines(user, pair)
    most_rolls = sorted(lines, key=lambda pk: -lines[pk][0])[:MOST_ON_MAP]
    anchor_name, anchor, reference_id = _anchor(pair, most_rolls[0])
    results = list(visible_results(user).filter(**pair.ids, stock_id__in=most_rolls).order_by("stock__name"))
    values = [roll_differences(Analysis.from_dict(each.pooled.as_dict()), anchor) for each in results]
    has_place = [each["speed_shift_stops"] is not None for each in values]
    drawn = [result for result, has in zip(results, has_place, strict=True) if has]
    values = [each for each, has in zip(values, has_place, strict=True) if has]
    distances = measure_distances(values, margins) if drawn else np.zeros((0, 0))
    kin, judged = _kin(drawn, values, anchor, margins)
    return MapView(
        pairs=pairs,
        pair=pair,
        results=tuple(drawn),
        left_out=tuple(result for result, has in zip(results, has_place, strict=True) if not has),
        found=similarity_map(distances) if len(drawn) > 1 else None,
        anchor=anchor_name,
        reference_id=reference_id,
        kin=kin,
        judged_count=judged,
        total=len(lines),
        margins=margins,
        set_margins=in_force,
    )


def _lines(user, pair: StandardPair) -> dict[int, tuple]:
    """For each stock: rolls, speed point, average gradient; by name."""
    results = visible_results(user).filter(**pair.ids).order_by("stock__name", "stock__maker")
    results = results.annotate(place=measured(SPEED_POINT), gradient=measured(CONTRAST))
    rows = results.values_list("stock_id", "pooled__roll_count", "place", "gradient")
    return {pk: (rolls, place, gradient) for pk, rolls, place, gradient in rows}


def _nearest(lines: dict[int, tuple], stock_id: int, margins: dict[str, Margin]) -> list[int]:
    """The other stocks of most alike contrast and speed, those without either last."""
    _, place, gradient = lines[stock_id]
    speed, contrast = (margins[name].limits[1] for name in ("speed_shift_stops", "contrast_ratio"))

    def distance(pk: int) -> float:
        _, other_place, other_gradient = lines[pk]
        if None in (place, gradient, other_place, other_gradient) or min(gradient, other_gradient) <= 0:
            return math.inf
        across = SPEED_WEIGHT * (place - other_place) / STOP / speed
        return math.hypot(across, math.log(gradient / other_gradient) / contrast)

    return sorted((pk for pk in lines if pk != stock_id), key=distance)[:NEAREST]


def _anchor(pair: StandardPair, fallback_id: int) -> tuple[str, Analysis, int | None]:
    """What all rolls are held against: the house reference, or any one stock where there is none."""
    reference_id = (
        HouseReference.objects.filter(**pair.ids, ended_at__isnull=True)
        .values_list("stock_id", flat=True)
        .first()
    )
    candidates = StockResult.objects.filter(**pair.ids, stock_id__in=[reference_id, fallback_id])
    found = {each.stock_id: each for each in candidates.select_related("pooled", "stock")}
    chosen = found.get(reference_id) or found[fallback_id]
    is_there = chosen.stock_id == reference_id
    return (
        chosen.stock.name,
        Analysis.from_dict(chosen.pooled.as_dict()),
        reference_id if is_there else None,
    )


def _light_results(user, pair: StandardPair, stock_ids: Iterable[int]) -> list[StockResult]:
    """Results without their curves, which only the rolls need."""
    results = visible_results(user).defer("pooled__detail", "pooled__measures")
    return list(results.filter(**pair.ids, stock_id__in=list(stock_ids)))


def _rolls_by_stock(results: Iterable[StockResult], anchor: Analysis) -> dict[int, list[dict]]:
    """Stock → what each of its rolls differs by from the anchor; a single roll is what was pooled."""
    results = list(results)
    several = {each.pooled_id: each.stock_id for each in results if each.pooled.roll_count >= LEAST_FILMS}
    single = {each.pooled_id: each.stock_id for each in results if each.pooled_id not in several}
    through = PooledAnalysis.analyses.through.objects.filter(pooledanalysis_id__in=several)
    links = list(through.values_list("pooledanalysis_id", "analysis_id"))
    analyses = RollAnalysis.objects.in_bulk([analysis_id for _, analysis_id in links])
    alone = PooledAnalysis.objects.in_bulk(single)
    told = [(several[pooled_id], analyses[analysis_id]) for pooled_id, analysis_id in links]
    told += [(single[pooled_id], pooled) for pooled_id, pooled in alone.items()]
    rolls: dict[int, list[dict]] = {each.stock_id: [] for each in results}
    for stock_id, analysis in told:
        rolls[stock_id].append(roll_differences(Analysis.from_dict(analysis.as_dict()), anchor))
    return rolls


def _kin(results, values, anchor: Analysis, margins) -> tuple[tuple[KinPair, ...], int]:
    """Pairs of stocks with several rolls that are near enough on the map to be worth judging."""
    able = [number for number, each in enumerate(results) if each.pooled.roll_count >= LEAST_FILMS]
    limits = {name: margin.limits[1] for name, margin in margins.items() if name != "speed_shift_stops"}

    def is_near(a: int, b: int) -> bool:
        ours, theirs = values[a], values[b]
        known = [name for name in limits if None not in (ours[name], theirs[name])]
        return bool(known) and all(abs(ours[name] - theirs[name]) <= limits[name] for name in known)

    near = [(a, b) for a, b in combinations(able, 2) if is_near(a, b)]
    counted: dict[int, None] = dict.fromkeys(number for pair in near for number in pair)
    chosen = list(dict.fromkeys([*counted, *able]))[:MOST_JUDGED]
    rolls = _rolls_by_stock([results[number] for number in chosen], anchor)
    spread = spread_within(list(rolls.values()))
    pairs = []
    for a, b in near:
        first, second = results[a], results[b]
        if a in chosen and b in chosen:
            ours, theirs = rolls[first.stock_id], rolls[second.stock_id]
            pairs.append(KinPair(first, second, judge_kinship(str(b), ours, theirs, spread, margins)))
    shown = [pair for pair in pairs if pair.kinship.kind in (SAME, STAND_IN)]
    shown.sort(key=lambda pair: (_rank(pair.kinship), _closeness(pair.kinship)))
    return tuple(shown), len(chosen)


def _rank(kinship: Kinship) -> int:
    return {SAME: 0, STAND_IN: 1}.get(kinship.kind, 2)


def _closeness(kinship: Kinship) -> float:
    return math.inf if kinship.relation.closeness is None else kinship.relation.closeness
