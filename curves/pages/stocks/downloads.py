"""A stock's result as files: every measure, and the whole curve. They take the addresses of the sheet."""

from django.http import HttpRequest
from django.views.decorators.http import require_safe

from curves.pages.access import readers_only
from curves.pages.listing import csv_file
from curves.pages.stocks.sheet import asked_sheet
from curves.queries.stock_sheet import SheetResult
from curves.sensitometry import MEASURES
from labsite.common.errors import NotFound


@require_safe
@readers_only
def measures_csv(request, stock_id: int):
    """Every measure and every difference from the reference, with interval, unit, reason and verdict."""
    result = _asked_result(request, stock_id)
    verdicts = result.comparison.verdicts if result.comparison else {}
    measures = [*result.analysis.measures.values()]
    measures += result.comparison.measures.values() if result.comparison else []
    columns = [("measure", lambda row: row.name), ("title", lambda row: MEASURES[row.name].title)]
    columns += [(name, _part(name)) for name in ("value", "low", "high", "unit", "reason", "note")]
    columns.append(("verdict", lambda row: verdicts.get(row.name)))
    columns.append(("in_by_override", lambda row: _overrides(result)))
    return csv_file(f"stock-{stock_id}-result-{result.pooled.pk}-measures.csv", measures, columns)


@require_safe
@readers_only
def curve_csv(request, stock_id: int):
    """The pooled curve with its 95 % band and gradient, over the measured range only."""
    result = _asked_result(request, stock_id)
    curve = result.analysis.curve
    unit = "log10 lx s" if result.analysis.exposure == "absolute" else "log10, relative"
    names = ("log_exposure", "density", "low", "high", "gradient")
    titles = (f"log_exposure [{unit}]", "density [D]", "low [D]", "high [D]", "gradient [D per log10]")
    rows = zip(*(getattr(curve, name).tolist() for name in names), strict=True)
    columns = [(title, _place(number)) for number, title in enumerate(titles)]
    columns.append(("in_by_override", lambda row: _overrides(result)))
    return csv_file(f"stock-{stock_id}-result-{result.pooled.pk}-curve.csv", rows, columns)


def _asked_result(request: HttpRequest, stock_id: int) -> SheetResult:
    sheet = asked_sheet(request, stock_id)
    if sheet.result is None:
        raise NotFound(f"{sheet.stock} has no result yet.")
    return sheet.result


def _overrides(result: SheetResult) -> str:
    """Why rolls that were held back count in it: told wherever its numbers are."""
    return "; ".join(f"{roll.code}: {reason}" for roll in result.rolls for reason in roll.override_reasons)


def _part(name: str):
    return lambda measure: getattr(measure, name)


def _place(number: int):
    return lambda row: row[number]
