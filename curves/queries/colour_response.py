"""How stocks answer to colours: each patch's shift from grey through the film's own curve.

One light at a time: what was photographed by daylight and by tungsten stands under exposure revisions of
their own, and never in one table. How far rolls of one stock differ is estimated anew whenever it is asked
for, from the readings that stand: an instrument's correction changes it at once.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

from django.db.models import Count, Q

from curves.models import ExposureRevision, FilmStock, Patch
from curves.queries.beside_reference import BesideReference, beside_reference
from curves.queries.patches import FilterFactor, RollPatches, filter_factors, frame_shifts, patches_of_rolls
from curves.queries.standing import standing_rolls
from curves.sensitometry import Analysis
from curves.sensitometry.comparing.colour_spread import (
    ColourComparison,
    ColourSpread,
    PooledColours,
    RollColours,
    compare_colours,
    estimate_colour_spread,
    pool_colours,
)
from curves.sensitometry.comparing.filter_pooling import pool_filter_factors
from curves.sensitometry.measures import Measure
from curves.sensitometry.sampled_curve import SampledCurve

#: Between household tungsten (about 2 900 K) and daylight (5 500 K); this lab's choice.
DAYLIGHT_FROM_K = 4000


NO_SPREAD = estimate_colour_spread([])


@dataclass(frozen=True)
class StockFilter:
    """A filter's factor on one stock, and what each roll that tells it says.

    Where it is withheld on every roll, these are all that were read through it.
    """

    filter_name: str
    factor: Measure
    rolls: tuple[FilterFactor, ...]

    @property
    def only_roll(self) -> FilterFactor | None:
        """The frames it is from; None where several rolls tell it."""
        return self.rolls[0] if len(self.rolls) == 1 else None


@dataclass(frozen=True)
class ColourStock:
    """One stock: its own shifts, their differences from the reference's, and filters that were tried."""

    stock: FilmStock
    is_reference: bool
    roll_count: int
    shifts: dict[str, Measure]
    differences: dict[str, Measure]
    verdicts: dict[str, str]
    filters: tuple[StockFilter, ...]


@dataclass(frozen=True)
class ColourRoll:
    """A roll on which the target was read, its curve, and what it tells of the patches."""

    read: RollPatches
    curve: SampledCurve
    colours: RollColours


@dataclass(frozen=True)
class LightSeries:
    """A light under which patches were read with one process, and how many stocks it was done on."""

    key: str
    exposure: ExposureRevision
    stock_count: int

    @property
    def name(self) -> str:
        """The light, in a word."""
        return light_series(self.exposure)


@dataclass(frozen=True)
class ColourResponse:
    """Everything that the page Colour response shows; ``lights`` has the other series, too."""

    beside: BesideReference
    exposure: ExposureRevision | None
    patches: tuple[Patch, ...]
    stocks: tuple[ColourStock, ...]
    readable: tuple[FilmStock, ...]
    unread: tuple[FilmStock, ...]
    lights: tuple[LightSeries, ...] = ()
    spread: ColourSpread = NO_SPREAD

    @property
    def series(self) -> str:
        """The light, in a word."""
        if self.exposure is None:
            return ""
        return light_series(self.exposure)


def colour_response(user, *, pair_key: str = "", stock_ids: tuple[int, ...] = ()) -> ColourResponse:
    """Return the shifts of the reference and the chosen stocks; of all that were read with none chosen."""
    beside = beside_reference(user, pair_key=pair_key, stock_ids=stock_ids, with_curves=False)
    if beside.pair is None:
        return ColourResponse(beside, None, (), (), (), ())
    return _response(beside, _colour_rolls(beside.pair.ids), stock_ids)


def _response(
    beside: BesideReference, by_stock: dict[int, list[ColourRoll]], stock_ids: tuple[int, ...]
) -> ColourResponse:
    exposure, lights = _lights(beside)
    spread = _spread(by_stock)
    reference = beside.reference
    found = [reference, *beside.stocks] if reference else list(beside.stocks)
    base = _pooled(by_stock.get(reference.stock_id), spread) if reference else None
    stocks = []
    for result in found:
        rolls = by_stock.get(result.stock_id)
        if not rolls:
            continue
        is_reference = result is reference
        own = base if is_reference else _pooled(rolls, spread)
        against = _against(own, None if is_reference else base, spread)
        stocks.append(
            ColourStock(
                stock=result.stock,
                is_reference=is_reference,
                roll_count=len(rolls),
                shifts=own.shifts,
                differences=against.measures,
                verdicts=against.verdicts,
                filters=_filters(rolls),
            )
        )
    patches = next((r.read.patches for rolls in by_stock.values() for r in rolls if r.read.patches), ())
    return ColourResponse(
        beside=beside,
        exposure=exposure,
        patches=tuple(patch for patch in patches if not patch.is_grey),
        stocks=tuple(stocks),
        readable=tuple(stock for stock in beside.choices if stock.pk in by_stock),
        unread=tuple(r.stock for r in beside.stocks if stock_ids and r.stock_id not in by_stock),
        lights=lights,
        spread=spread,
    )


def _lights(beside: BesideReference) -> tuple[ExposureRevision, tuple[LightSeries, ...]]:
    """The chosen light, and all under which patches were read with this process; each stands by itself."""
    process_id = beside.pair.process_revision_id
    read = standing_rolls().filter(process_revision=process_id, patch_frames__isnull=False)
    counted = (
        read.order_by().values("exposure_revision").annotate(stocks=Count("batch__stock", distinct=True))
    )
    counts = dict(counted.values_list("exposure_revision", "stocks"))
    keys = {p.exposure_revision_id: p.key for p in beside.pairs if p.process_revision_id == process_id}
    revisions = ExposureRevision.objects.select_related("standard").in_bulk(keys)
    ordered = sorted(revisions.values(), key=lambda each: (-each.colour_temperature_k, each.pk))
    lights = (LightSeries(keys[each.pk], each, counts[each.pk]) for each in ordered if each.pk in counts)
    return revisions[beside.pair.exposure_revision_id], tuple(lights)


@dataclass(frozen=True)
class ColoursBeside:
    """One stock's shifts, in the order of its patches, and how they differ from the reference's."""

    shifts: dict[str, Measure]
    compared: ColourComparison
    roll_count: int
    is_one_roll: bool
    spread: ColourSpread


def colours_beside(stock_id: int, reference_id: int | None, pair: dict[str, int]) -> ColoursBeside | None:
    """Return a stock's colours next to the reference's; None where no patch of the stock was read.

    Without a reference, and for the reference itself, there are no differences.
    """
    is_alone = reference_id in (None, stock_id)
    found = _colour_rolls(pair, [stock_id] if is_alone else [stock_id, reference_id])
    spread = _spread(found)
    own = _pooled(found.get(stock_id), spread)
    if own is None or not own.shifts:
        return None
    labels = [patch.label for patch in found[stock_id][0].read.patches if patch.label in own.shifts]
    against = _against(own, None if is_alone else _pooled(found.get(reference_id), spread), spread)
    ordered = [label for label in labels if label in against.measures]
    return ColoursBeside(
        shifts={label: own.shifts[label] for label in labels},
        compared=ColourComparison(
            {label: against.measures[label] for label in ordered},
            {label: against.verdicts[label] for label in ordered},
        ),
        roll_count=len(found[stock_id]),
        is_one_roll=own.is_one_roll,
        spread=spread,
    )


def light_series(exposure: ExposureRevision) -> str:
    """Return the light of an exposure standard in a word."""
    return "daylight" if exposure.colour_temperature_k >= DAYLIGHT_FROM_K else "tungsten"


def _colour_rolls(
    pair: dict[str, int], stock_ids: Iterable[int] | None = None
) -> dict[int, list[ColourRoll]]:
    """Stock → its standing rolls with frames of the target under a pair of standards.

    Of chosen stocks, and of all with several such rolls, from which the spread is estimated.
    """
    rolls = standing_rolls().filter(**pair, patch_frames__isnull=False)
    if stock_ids is not None:
        counted = rolls.order_by().values("batch__stock").annotate(rolls=Count("pk", distinct=True))
        several = counted.filter(rolls__gt=1).values("batch__stock")
        rolls = rolls.filter(Q(batch__stock__in=list(stock_ids)) | Q(batch__stock__in=several))
    rolls = rolls.distinct().select_related("batch__stock", "exposure_revision__standard", "current_analysis")
    by_stock: dict[int, list[ColourRoll]] = {}
    for read in patches_of_rolls(list(rolls.order_by("pk"))):
        analysis = Analysis.from_dict(read.roll.current_analysis.as_dict())
        if analysis.curve.log_exposure.size > 1:  # a roll without a curve tells nothing of patches
            curve, stock_id = SampledCurve.of(analysis.curve), read.roll.batch.stock_id
            found = ColourRoll(read, curve, _colours(read, curve, analysis.tablet_share))
            by_stock.setdefault(stock_id, []).append(found)
    return by_stock


def _colours(read: RollPatches, curve: SampledCurve, tablet_share: float) -> RollColours:
    """A roll's shifts, and their errors without the tablet's, which all rolls have alike."""
    alone = replace(curve, modes=curve.modes * math.sqrt(1.0 - tablet_share))
    errors = {label: shift.standard_error for label, shift in frame_shifts(read, alone).items()}
    return RollColours(str(read.roll.batch.stock_id), frame_shifts(read, curve), errors)


def _spread(by_stock: dict[int, list[ColourRoll]]) -> ColourSpread:
    return estimate_colour_spread([roll.colours for rolls in by_stock.values() for roll in rolls])


def _pooled(rolls: list[ColourRoll] | None, spread: ColourSpread) -> PooledColours | None:
    return pool_colours([roll.colours for roll in rolls], spread) if rolls else None


def _against(own: PooledColours, base: PooledColours | None, spread: ColourSpread) -> ColourComparison:
    return compare_colours(own, base, spread) if base else ColourComparison({}, {})


def _filters(rolls: list[ColourRoll]) -> tuple[StockFilter, ...]:
    by_name: dict[str, list[FilterFactor]] = {}
    for roll in rolls:
        for found in filter_factors(roll.read, roll.curve):
            by_name.setdefault(found.filter_name, []).append(found)
    filters = []
    for name, found in sorted(by_name.items()):
        telling = tuple(each for each in found if each.factor.value is not None) or tuple(found)
        filters.append(StockFilter(name, pool_filter_factors([each.factor for each in telling]), telling))
    return tuple(filters)
