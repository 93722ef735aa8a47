"""The comparison's table: which measures are columns, and its rows in their order."""

from dataclasses import dataclass

from django.urls import reverse
from django.utils.html import escape
from django.utils.safestring import SafeString

from curves.pages.compare.drawing import sheet_url, stock_key
from curves.pages.compare.selection import Selection
from curves.queries.colour_response import ColoursBeside, light_series
from curves.queries.comparison import ComparedStock, ComparisonView
from curves.queries.comparison_document import COLUMNS, DIFFERENCE_COLUMNS, OWN_COLUMNS
from curves.queries.comparison_rows import DIFFERENCE_ORDERS
from curves.sensitometry import MEASURES, Measure
from curves.sensitometry.comparing.colour_wording import describe_colour_differences
from curves.sensitometry.comparing.stock_wording import describe_stock
from labsite.templatetags.measures import measure_parts, unit_text

__all__ = ["COLUMNS", "DIFFERENCE_COLUMNS", "OWN_COLUMNS", "Cell", "Column", "Row", "columns", "table_rows"]


#: Where the page Colour response has a stock's row of each.
COLOURS = {"colour_shift": "own", "colour_shift_difference": "against"}


@dataclass(frozen=True)
class Column:
    """The heading of one measure; ``query`` is the address that puts the table in its order."""

    name: str
    title: str
    unit: str
    explanation: str
    query: str
    direction: str
    is_difference: bool


@dataclass(frozen=True)
class Cell:
    """One measure of one stock, with its verdict where it is a difference."""

    name: str
    measure: Measure | None
    verdict: str = ""


@dataclass(frozen=True)
class Said:
    """A sentence, and for each number that it rests on its symbol and where it stands."""

    text: str
    links: tuple[tuple[str, str], ...]

    @property
    def opening(self) -> str:
        """The sentence as far as the links, which stand in its closing brackets."""
        if not self.links:
            return self.text
        return self.text[:-2] + "; " if self.text.endswith(").") else self.text.removesuffix(".") + " ("

    @property
    def closing(self) -> str:
        """What follows the links."""
        return ")." if self.links else ""


@dataclass(frozen=True)
class Row:
    """One stock of the table; ``key`` links it to its curve."""

    key: str
    ink: int | str | None
    stock: ComparedStock
    is_chosen: bool
    hide_query: str
    own: tuple[Cell, ...]
    differences: tuple[Cell, ...]
    cells: SafeString
    url: str
    selection: Selection

    @property
    def words(self) -> tuple[Said, ...]:
        """What is said of the stock next to the reference; asked of few rows, so made when asked for."""
        compared = self.stock.comparison
        return _linked(compared.sentences if compared else (), self.stock, self.selection)

    def own_words(self, colours: ColoursBeside | None) -> tuple[Said, ...]:
        """What is said of the stock by itself, and what is not measured."""
        sentences = describe_stock(
            self.stock.analysis,
            pictures=self.stock.pictures,
            colours=colours.shifts if colours else {},
            light=light_series(self.stock.result.exposure_revision),
            is_one_roll=colours is not None and colours.is_one_roll,
        )
        return _linked(sentences, self.stock, self.selection)

    def colour_words(self, colours: ColoursBeside | None) -> tuple[Said, ...]:
        """What is said of the stock's colours next to the reference's."""
        light = light_series(self.stock.result.exposure_revision)
        sentences = describe_colour_differences(colours.compared, light) if colours else ()
        return _linked(sentences, self.stock, self.selection)


def columns(selection: Selection) -> list[Column]:
    """Return the headings of the chosen columns, from the one registry."""
    return [
        Column(
            name=name,
            title=MEASURES[name].title,
            unit=unit_text(MEASURES[name].unit),
            explanation=MEASURES[name].explanation,
            query=selection.sorted_by(name).query(),
            direction={name: "ascending", f"-{name}": "descending"}.get(selection.sort, ""),
            is_difference=name in DIFFERENCE_COLUMNS,
        )
        for name in selection.columns
    ]


def table_rows(view: ComparisonView, selection: Selection) -> list[Row]:
    """Return the reference, then the chosen stocks in the address's order, then the others in theirs."""
    return [_row(stock, selection) for stock in ordered_stocks(view, selection)]


def ordered_stocks(view: ComparisonView, selection: Selection) -> list[ComparedStock]:
    """Return the stocks of the sheet in the order of its table."""
    place = {pk: number for number, pk in enumerate(selection.stocks)}
    shown = view.catalogue.shown if view.catalogue else ()
    listed = {pk: number for number, pk in enumerate(shown)}
    others = [stock for stock in view.stocks if not stock.is_reference and stock.stock.pk not in place]
    others.sort(key=lambda stock: listed.get(stock.stock.pk, len(listed)))
    chosen = [stock for stock in view.stocks if not stock.is_reference and stock.stock.pk in place]
    chosen.sort(key=lambda stock: place[stock.stock.pk])
    others = _by_difference(others, selection.sort)
    return [*([view.reference] if view.reference else []), *chosen, *others]


def _by_difference(stocks: list[ComparedStock], sort: str) -> list[ComparedStock]:
    """Stocks by a difference that only comparing tells; those without it last."""
    name = sort.lstrip("-")
    if name not in DIFFERENCE_ORDERS:
        return stocks

    def value(stock: ComparedStock):
        return stock.comparison.measures[name].value if stock.comparison else None

    known = [stock for stock in stocks if value(stock) is not None]
    known.sort(key=value, reverse=sort.startswith("-"))
    return known + [stock for stock in stocks if value(stock) is None]


def _row(stock: ComparedStock, selection: Selection) -> Row:
    pk = stock.stock.pk
    is_chosen = pk in selection.stocks and not stock.is_reference
    own = tuple(Cell(name, stock.measures.get(name)) for name in OWN_COLUMNS)
    compared = stock.comparison
    differences = tuple(
        Cell(name, compared.measures.get(name), compared.verdicts.get(name, ""))
        if compared
        else Cell(name, None)
        for name in DIFFERENCE_COLUMNS
    )
    by_name = {cell.name: cell for cell in (*own, *differences)}
    ink = selection.stocks.index(pk) if is_chosen else None
    return Row(
        key=stock_key(stock),
        ink="reference" if stock.is_reference else ink,
        stock=stock,
        is_chosen=is_chosen,
        hide_query=selection.hiding(pk).query(),
        own=own,
        differences=differences,
        cells=SafeString("".join(_cell_text(by_name[name], pk) for name in selection.columns)),
        url=sheet_url(stock),
        selection=selection,
    )


def _cell_text(cell: Cell, pk: int) -> SafeString:
    """A table cell, written here since a page has a thousand: ``components/measure.html`` in brief.

    For the same reason only what is words is escaped: the rest are numbers and names of the registry.
    """
    anchor = cell_anchor(pk, cell.name)
    if cell.measure is None:
        return SafeString(f'<td class="number" id="{anchor}">–</td>')
    parts = measure_parts(cell.measure, cell.name, is_column=True)
    if parts["is_withheld"]:
        reason, short = escape(parts["reason_text"]), escape(parts["reason_short"] or "–")
        return SafeString(
            f'<td class="number" id="{anchor}"><span class="measure measure-withheld"'
            f' data-reason="{escape(parts["reason"])}" title="{reason}">'
            f'<span class="measure-short" aria-hidden="true">{short}</span>'
            f'<span class="visually-hidden">Withheld. {reason}</span></span></td>'
        )
    bound = f"{parts['bound']} " if parts["bound"] else ""
    interval = f' <span class="measure-interval">{parts["interval"]}</span>' if parts["interval"] else ""
    verdict = f'<span class="compare-verdict">{escape(cell.verdict)}</span>' if cell.verdict else ""
    return SafeString(
        f'<td class="number" id="{anchor}"><span class="measure">'
        f'<data class="measure-value" value="{parts["value"]!r}">{bound}{parts["text"]}</data>'
        f"{interval}</span>{verdict}</td>"
    )


def cell_anchor(pk: int, name: str) -> str:
    """Return the id of a number's cell, to which sentences lead."""
    return f"s{pk}-{name}"


def _linked(sentences, stock: ComparedStock, selection: Selection) -> tuple[Said, ...]:
    """Sentences on a stock, each with links to the numbers that it rests on."""
    return tuple(
        Said(sentence.text, tuple(_number_link(stock, name, selection) for name in sentence.measure_names))
        for sentence in sentences
    )


def _number_link(stock: ComparedStock, name: str, selection: Selection) -> tuple[str, str]:
    symbol, pk = MEASURES[name].symbol, stock.stock.pk
    if name in COLOURS:
        result = stock.result
        query = f"standards={result.process_revision_id}-{result.exposure_revision_id}&stock={pk}"
        return symbol, f"{reverse('colour_response')}?{query}#{COLOURS[name]}-{pk}"
    if name in selection.columns:
        return symbol, f"#{cell_anchor(pk, name)}"
    part = "differences" if name in DIFFERENCE_COLUMNS else "measures"
    return symbol, f"{sheet_url(stock)}#{part}"
