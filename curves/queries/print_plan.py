"""The print plan: how long each stock is printed so that base plus fog is made up for and nothing else."""

from dataclasses import dataclass

import numpy as np

from curves.models import FilmStock, StockResult
from curves.queries.beside_reference import BesideReference, beside_reference
from curves.queries.print_settings import PrintSettings
from curves.sensitometry.intervals import Z95
from curves.sensitometry.measures import Measure, withheld
from curves.sensitometry.speed_scale import stops_between


@dataclass(frozen=True)
class PlannedPrint:
    """The print time of one stock, and the nearest step of an f-stop timer to it."""

    stock: FilmStock
    is_reference: bool
    base_change: Measure
    time: Measure
    stops: float | None
    steps: int | None
    step_time_s: float | None


@dataclass(frozen=True)
class PrintPlan:
    """The print times of the chosen stocks, or of all of them, from the reference's."""

    beside: BesideReference
    prints: tuple[PlannedPrint, ...]


def print_plan(
    user, *, settings: PrintSettings, pair_key: str = "", stock_ids: tuple[int, ...] = ()
) -> PrintPlan:
    """Return how long each stock is exposed so that base plus fog is made up for and nothing else."""
    beside = beside_reference(user, pair_key=pair_key, stock_ids=stock_ids, with_curves=False)
    if beside.reference is None:
        return PrintPlan(beside, ())
    rows = (beside.reference, *beside.stocks)
    base = _measures(beside.reference)["base_plus_fog"]
    return PrintPlan(beside, tuple(_planned(row, base, settings, row is rows[0]) for row in rows))


def _measures(result: StockResult) -> dict[str, Measure]:
    return {name: Measure.from_dict(name, found) for name, found in result.pooled.measures.items()}


def _planned(
    result: StockResult, reference: Measure, settings: PrintSettings, is_reference: bool
) -> PlannedPrint:
    base = _measures(result)["base_plus_fog"]
    time = settings.reference_time if is_reference else settings.print_time(base, reference)
    change = _base_change(base, reference, is_reference)
    if time.value is None:
        return PlannedPrint(result.stock, is_reference, change, time, None, None, None)
    stops = float(stops_between(time.value, settings.time_s))
    steps = round(stops * settings.per_stop)
    step_time = settings.time_s * 2 ** (steps / settings.per_stop)
    return PlannedPrint(result.stock, is_reference, change, time, stops, steps, step_time)


def _base_change(base: Measure, reference: Measure, is_reference: bool) -> Measure:
    name = "base_difference"
    if is_reference:
        return Measure(name, 0.0, unit="D", note="the reference itself")
    for each in (base, reference):
        if each.value is None:
            return withheld(name, each.reason, "D", each.note)
    value = base.value - reference.value
    errors = base.standard_error, reference.standard_error
    if None in errors:
        return Measure(name, value, unit="D", note="no interval: one base plus fog has none")
    half = Z95 * float(np.hypot(*errors))
    return Measure(name, value, value - half, value + half, "D")
