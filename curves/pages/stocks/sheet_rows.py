"""The tables of a stock's sheet: measures, differences from the reference, the curve as numbers."""

from dataclasses import dataclass

from curves.pages.rolls.measure_groups import grouped_measures
from curves.queries.stock_sheet import SheetResult
from curves.sensitometry import MEASURES, Analysis, Comparison, Measure, MeasureDefinition

#: The curve's table shows about so many of its points; the file has them all.
CURVE_ROWS = 24


@dataclass(frozen=True)
class SheetRow:
    """One measure of the stock, and the reference's where there is one."""

    definition: MeasureDefinition
    measure: Measure
    reference: Measure | None


@dataclass(frozen=True)
class DifferenceRow:
    """One difference from the reference, and whether it is real."""

    definition: MeasureDefinition
    measure: Measure
    verdict: str


def measure_groups(result: SheetResult) -> list[tuple[str, list[SheetRow]]]:
    """Return every measure in groups, in the order of a roll's page."""
    beside = result.reference_analysis.measures if result.reference_analysis else {}
    return [
        (title, [SheetRow(row.definition, row.measure, beside.get(row.definition.name)) for row in rows])
        for title, rows in grouped_measures(result.analysis)
    ]


def difference_rows(comparison: Comparison) -> list[DifferenceRow]:
    """Return every difference with its verdict, in the order of the registry."""
    return [
        DifferenceRow(MEASURES[name], measure, comparison.verdicts[name])
        for name, measure in comparison.measures.items()
    ]


def curve_rows(analysis: Analysis) -> list[tuple[float, ...]]:
    """Return points along the curve: log exposure, density, low, high, gradient; both ends among them."""
    curve = analysis.curve
    columns = (curve.log_exposure, curve.density, curve.low, curve.high, curve.gradient)
    rows = list(zip(*(column.tolist() for column in columns), strict=True))
    stride = max(1, round((len(rows) - 1) / CURVE_ROWS))
    chosen = rows[::stride]
    return chosen if not rows or chosen[-1] == rows[-1] else [*chosen, rows[-1]]
