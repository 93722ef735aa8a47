"""The table of a frozen comparison, from its kept document alone."""

from dataclasses import dataclass

from curves.queries.comparison_document import document_columns


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


def frozen_rows(document: dict) -> list[FrozenRow]:
    """Return the lines of the document, every column of the files."""
    rows, columns = [], document_columns(document)
    for stock in document["stocks"]:
        found = stock["measures"] | stock["differences"]
        cells = tuple(FrozenCell(name, found.get(name), _verdict(found.get(name))) for name in columns)
        rows.append(FrozenRow(stock, cells))
    return rows


def _verdict(measure: dict | None) -> str:
    return measure.get("verdict", "") if measure and measure["value"] is not None else ""
