"""The comparison's tables: which measures are columns, and the rows of page and CSV alike."""

from dataclasses import dataclass

from curves.pages.compare.drawing import stock_key
from curves.pages.compare.selection import Selection
from curves.queries.comparison import ComparedStock, ComparisonView
from curves.sensitometry import MEASURES, Measure
from labsite.templatetags.measures import unit_text

#: Measures of a stock's own curve, as columns.
OWN_COLUMNS = (
    "iso_speed",
    "box_difference_stops",
    "delta_d_130",
    "average_gradient_150",
    "contrast_index",
    "gamma",
    "toe_length",
    "straight_part_end",
    "shoulder_onset",
    "useful_range",
    "d_max",
    "base_plus_fog",
)
#: Differences from the reference, as columns.
DIFFERENCE_COLUMNS = (
    "speed_shift_stops",
    "contrast_ratio",
    "shape_difference",
    "toe_difference",
    "middle_difference",
    "highlight_difference",
    "base_difference",
)


@dataclass(frozen=True)
class Column:
    """The heading of one measure."""

    name: str
    title: str
    unit: str
    explanation: str


@dataclass(frozen=True)
class Cell:
    """One measure of one stock, with its verdict where it is a difference."""

    name: str
    measure: Measure | None
    verdict: str = ""


@dataclass(frozen=True)
class Row:
    """One stock of the tables; ``key`` links it to its curve."""

    key: str
    ink: int | str | None
    stock: ComparedStock
    is_chosen: bool
    toggle_query: str
    own: tuple[Cell, ...]
    differences: tuple[Cell, ...]


def columns(names: tuple[str, ...]) -> list[Column]:
    """Return the headings of measures, from the one registry."""
    return [
        Column(name, MEASURES[name].title, unit_text(MEASURES[name].unit), MEASURES[name].explanation)
        for name in names
    ]


def table_rows(view: ComparisonView, selection: Selection) -> list[Row]:
    """Return the reference first, then the chosen stocks in the address's order, then the others by name."""
    place = {pk: ink for ink, pk in enumerate(selection.stocks)}

    def order(stock: ComparedStock):
        return (not stock.is_reference, place.get(stock.stock.pk, len(place)), stock.stock.name)

    return [_row(stock, selection, place) for stock in sorted(view.stocks, key=order)]


def _row(stock: ComparedStock, selection: Selection, place: dict[int, int]) -> Row:
    pk = stock.stock.pk
    is_chosen = pk in place and not stock.is_reference
    toggled = selection.without_stock(pk) if is_chosen else selection.with_stock(pk)
    differences = stock.comparison
    return Row(
        key=stock_key(stock),
        ink="reference" if stock.is_reference else place.get(pk),
        stock=stock,
        is_chosen=is_chosen,
        toggle_query=toggled.query(),
        own=tuple(Cell(name, stock.analysis.measures.get(name)) for name in OWN_COLUMNS),
        differences=tuple(
            Cell(name, differences.measures.get(name), differences.verdicts.get(name, ""))
            if differences
            else Cell(name, None)
            for name in DIFFERENCE_COLUMNS
        ),
    )


def csv_rows(view: ComparisonView, selection: Selection):
    """Yield the table as lines of text and numbers: one line a stock, value, low, high, reason a measure."""
    header = ["stock", "maker", "box_speed", "is_reference", "rolls", "rolls_left_out"]
    header += ["result", "engine_version"]
    for name in (*OWN_COLUMNS, *DIFFERENCE_COLUMNS):
        unit = MEASURES[name].unit
        header += [f"{name} [{unit}]" if unit else name, f"{name} low", f"{name} high", f"{name} withheld"]
    header += ["verdict " + name for name in DIFFERENCE_COLUMNS]
    yield header
    for row in table_rows(view, selection):
        if selection.stocks and not (row.is_chosen or row.stock.is_reference):
            continue
        film, pooled = row.stock.stock, row.stock.result.pooled
        line = [film.name, film.maker, film.box_speed, int(row.stock.is_reference), pooled.roll_count]
        line += [pooled.left_out_count, pooled.pk, pooled.engine_version]
        for cell in (*row.own, *row.differences):
            line += _csv_cells(cell.measure)
        yield line + [cell.verdict for cell in row.differences]


def _csv_cells(measure: Measure | None) -> list:
    if measure is None:
        return ["", "", "", ""]
    return [
        "" if value is None else value for value in (measure.value, measure.low, measure.high, measure.reason)
    ]
