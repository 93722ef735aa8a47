"""The tables of a frozen comparison, from its kept document alone."""

from dataclasses import dataclass

from curves.queries.comparison_document import DIFFERENCE_COLUMNS, document_columns
from curves.sensitometry import MEASURES
from labsite.templatetags.measures import unit_text


@dataclass(frozen=True)
class FrozenCell:
    """One number as it was kept, with its verdict where it is a difference."""

    name: str
    measure: dict | None
    verdict: str


@dataclass(frozen=True)
class FrozenRow:
    """One stock as it was kept; ``key`` links it to its curve."""

    stock: dict
    cells: tuple[FrozenCell, ...]

    @property
    def key(self) -> str:
        """The name by which the figure finds the stock, as on the live page."""
        return "reference" if self.stock["is_reference"] else f"stock-{self.stock['stock_id']}"


@dataclass(frozen=True)
class FrozenPart:
    """A table of its own, so that a sheet of paper holds its columns."""

    title: str
    slug: str
    headings: tuple[dict, ...]
    rows: tuple[FrozenRow, ...]


def frozen_parts(document: dict) -> list[FrozenPart]:
    """Return what each stock measured, and its differences where there are any: every column of the files."""
    columns = document_columns(document)
    own = tuple(name for name in columns if name not in DIFFERENCE_COLUMNS)
    parts = [_part("Measures", "measures", own, document["stocks"])]
    compared = [stock for stock in document["stocks"] if stock["differences"]]
    if compared:
        differences = tuple(name for name in columns if name in DIFFERENCE_COLUMNS)
        parts.append(_part("Differences from the reference", "differences", differences, compared))
    return parts


def _part(title: str, slug: str, names: tuple[str, ...], stocks: list[dict]) -> FrozenPart:
    headings = tuple(
        {"name": name, "title": MEASURES[name].title, "unit": unit_text(MEASURES[name].unit)}
        for name in names
    )
    return FrozenPart(title, slug, headings, tuple(_row(stock, names) for stock in stocks))


def _row(stock: dict, names: tuple[str, ...]) -> FrozenRow:
    found = stock["measures"] | stock["differences"]
    cells = tuple(FrozenCell(name, found.get(name), _verdict(found.get(name))) for name in names)
    return FrozenRow(stock, cells)


def _verdict(measure: dict | None) -> str:
    return measure.get("verdict", "") if measure and measure["value"] is not None else ""
