"""How stocks answer to colours: each patch's shift from grey through the film's own curve.

One light at a time: what was photographed by daylight and by tungsten stands under exposure revisions of
their own, and never in one table.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Count

from curves.models import ExposureRevision, FilmStock, Patch
from curves.queries.beside_reference import BesideReference, beside_reference
from curves.queries.patches import FilterFactor, RollPatches, filter_factors, frame_shifts, patches_of_rolls
from curves.queries.standing import standing_rolls
from curves.sensitometry import Analysis
from curves.sensitometry.colour_response import shifts_from_reference
from curves.sensitometry.intervals import measure_with_error
from curves.sensitometry.measures import Measure
from curves.sensitometry.sampled_curve import SampledCurve

#: Between household tungsten (about 2 900 K) and daylight (5 500 K); this lab's choice.
DAYLIGHT_FROM_K = 4000


@dataclass(frozen=True)
class ColourStock:
    """One stock: its own shifts, their differences from the reference's, and filters that were tried."""

    stock: FilmStock
    is_reference: bool
    roll_count: int
    shifts: dict[str, Measure]
    differences: dict[str, Measure]
    filters: tuple[FilterFactor, ...]


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
    rolls = standing_rolls().filter(**beside.pair.ids, patch_frames__isnull=False).distinct()
    rolls = rolls.select_related("batch__stock", "exposure_revision__standard", "current_analysis")
    read = patches_of_rolls(list(rolls.order_by("pk")))
    by_stock: dict[int, list[RollPatches]] = {}
    for each in read:
        by_stock.setdefault(each.roll.batch.stock_id, []).append(each)
    return _response(beside, by_stock, stock_ids)


def _response(
    beside: BesideReference, by_stock: dict[int, list[RollPatches]], stock_ids: tuple[int, ...]
) -> ColourResponse:
    exposure, lights = _lights(beside)
    reference = beside.reference
    found = [reference, *beside.stocks] if reference else list(beside.stocks)
    base = _shifts(by_stock.get(reference.stock_id, [])) if reference else {}
    stocks = []
    for result in found:
        read = by_stock.get(result.stock_id)
        if not read:
            continue
        is_reference = result is reference
        shifts = base if is_reference else _shifts(read)
        stocks.append(
            ColourStock(
                stock=result.stock,
                is_reference=is_reference,
                roll_count=len(read),
                shifts=shifts,
                differences=shifts_from_reference(shifts, base) if base and not is_reference else {},
                filters=tuple(factor for each in read for factor in filter_factors(each, _curve(each))),
            )
        )
    patches = next((each.patches for rolls in by_stock.values() for each in rolls if each.patches), ())
    return ColourResponse(
        beside=beside,
        exposure=exposure,
        patches=tuple(patch for patch in patches if not patch.is_grey),
        stocks=tuple(stocks),
        readable=tuple(stock for stock in beside.choices if stock.pk in by_stock),
        unread=tuple(r.stock for r in beside.stocks if stock_ids and r.stock_id not in by_stock),
        lights=lights,
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
class StockColours:
    """One stock's shifts by themselves, for its sheet: coloured patches in their order."""

    patches: tuple[str, ...]
    shifts: dict[str, Measure]
    roll_count: int


def colours_of_stocks(stock_ids: Iterable[int], **pair: int) -> dict[int, StockColours]:
    """Return stock → its shifts over its standing rolls under one pair, for stocks with patches read."""
    rolls = standing_rolls().filter(**pair, batch__stock__in=list(stock_ids), patch_frames__isnull=False)
    rolls = rolls.distinct().select_related("batch", "exposure_revision", "current_analysis")
    by_stock: dict[int, list[RollPatches]] = {}
    for each in patches_of_rolls(list(rolls.order_by("pk"))):
        by_stock.setdefault(each.roll.batch.stock_id, []).append(each)
    return {
        stock_id: StockColours(
            tuple(patch.label for patch in read[0].patches if not patch.is_grey), _shifts(read), len(read)
        )
        for stock_id, read in by_stock.items()
    }


@dataclass(frozen=True)
class ColoursBeside:
    """One stock's shifts, in the order of its patches, and how they differ from the reference's."""

    shifts: dict[str, Measure]
    differences: dict[str, Measure]
    roll_count: int


def colours_beside(stock_id: int, reference_id: int | None, pair: dict[str, int]) -> ColoursBeside | None:
    """Return a stock's colours next to the reference's; None where no patch of the stock was read.

    Without a reference, and for the reference itself, there are no differences.
    """
    is_alone = reference_id in (None, stock_id)
    found = colours_of_stocks([stock_id] if is_alone else [stock_id, reference_id], **pair)
    own, base = found.get(stock_id), None if is_alone else found.get(reference_id)
    if own is None or not own.shifts:
        return None
    shifts = {label: own.shifts[label] for label in own.patches if label in own.shifts}
    against = shifts_from_reference(shifts, base.shifts) if base else {}
    differences = {label: against[label] for label in shifts if label in against}
    return ColoursBeside(shifts, differences, own.roll_count)


def light_series(exposure: ExposureRevision) -> str:
    """Return the light of an exposure standard in a word."""
    return "daylight" if exposure.colour_temperature_k >= DAYLIGHT_FROM_K else "tungsten"


def _curve(read: RollPatches) -> SampledCurve:
    return SampledCurve.of(Analysis.from_dict(read.roll.current_analysis.as_dict()).curve)


def _shifts(rolls: list[RollPatches]) -> dict[str, Measure]:
    """The shifts of a stock's rolls together: the mean of those that can be read, else the first reason."""
    by_patch: dict[str, list[Measure]] = {}
    for read in rolls:
        for label, shift in frame_shifts(read, _curve(read)).items():
            by_patch.setdefault(label, []).append(shift)
    return {label: _mean(shifts) for label, shifts in by_patch.items()}


def _mean(shifts: list[Measure]) -> Measure:
    known = [shift for shift in shifts if shift.value is not None]
    if len(known) < 2:
        return known[0] if known else shifts[0]
    errors = [shift.standard_error for shift in known]
    value = sum(shift.value for shift in known) / len(known)
    sd = None if None in errors else math.sqrt(sum(error**2 for error in errors)) / len(known)
    return measure_with_error("colour_shift", value, sd, "stop", f"mean of {len(known)} rolls")
