"""What one cell of a table can hold, checked and told in the same words in every kind of table."""

from __future__ import annotations

from collections.abc import Sequence

from curves.importers.header import Columns
from curves.importers.numbers import comma_is_decimal, parse_number
from curves.importers.problems import Problem, problem, shown
from curves.importers.tables import Cell, ParsedFile, Row

DENSITY_RANGE = (-0.1, 6.0)
"""Plausible densities [D]: a clear film reads a little below zero on an ill-zeroed instrument, and no
densitometer reaches 6 (common practice, no source)."""

REPLICATE_RANGE = (1, 999)

_CELL_FAULTS = {
    "formula": ("FORMULA_CELL", "a formula ({}), whose result is not trusted; paste it as a value"),
    "date": ("DATE_CELL", "a date ({}), into which a spreadsheet turned what was typed; type it as a number"),
    "error": ("ERROR_CELL", "the spreadsheet error {}; give the reading itself"),
}


class CellReader:
    """Reads the cells of one table and gathers what is wrong with them.

    Parameters
    ----------
    parsed : ParsedFile
    columns : Columns
    body : sequence of Row
        The rows below the header.
    numeric : sequence of str
        Columns of numbers beside the densities; together they show whether a comma is a decimal mark.
    """

    def __init__(
        self, parsed: ParsedFile, columns: Columns, body: Sequence[Row], numeric: Sequence[str]
    ) -> None:
        self.problems: list[Problem] = []
        self._columns = columns
        self._comma = parsed.comma
        places = [columns.places[name] for name in numeric if name in columns.places]
        places += [at for at, _ in columns.densities]
        cells = (row.cells[at].text for row in body for at in places if at < len(row.cells))
        self._comma_is_sure = parsed.comma == "decimal" and comma_is_decimal(cells)

    def _cell(self, row: Row, name: str) -> Cell:
        at = self._columns.places.get(name)
        return row.cells[at] if at is not None and at < len(row.cells) else Cell()

    def _text(self, row: Row, name: str) -> str:
        return self._cell(row, name).text

    def _refuse(self, code: str, row: Row, column: str, value: str, advice: str) -> None:
        self.problems.append(problem(code, advice, row=row.number, column=column, value=value))

    def _check_width(self, row: Row) -> None:
        width = len(self._columns.header.cells)
        extra = [cell.text for cell in row.cells[width:] if cell.text]
        if extra:
            cure = (
                "write decimal points, or separate the columns by semicolons if these are decimal commas"
                if self._comma == "refuse"
                else "take out what stands beyond the last column"
            )
            advice = f"there are {len(row.cells)} cells under a header of {width}; {cure}"
            self.problems.append(problem("EXTRA_CELLS", advice, row=row.number, value=extra[0]))

    def _is_faulty(self, row: Row, column: str, at: int) -> bool:
        """Whether the cell is of a kind that no reading can be taken from; then it is refused."""
        cell = row.cells[at]
        if cell.kind not in _CELL_FAULTS:
            return False
        code, advice = _CELL_FAULTS[cell.kind]
        name = f"cell {column_letters(at)}{row.number}"
        what = advice.format(shown(cell.text, limit=24))
        self._refuse(code, row, column, cell.text, f"{name} holds {what}")
        return True

    def _number(self, row: Row, column: str, at: int, limits: tuple[float, float], hint: str) -> float | None:
        """The number in a filled cell, or None after refusing it."""
        if self._is_faulty(row, column, at):
            return None
        cell = row.cells[at]
        value, code, advice = parse_number(cell.text, comma=self._comma, comma_is_sure=self._comma_is_sure)
        if value is not None and not limits[0] <= value <= limits[1]:
            value, code = None, "OUT_OF_RANGE"
            advice = f"“{shown(cell.text)}” is outside {_range(limits)}; {hint}"
        if value is None:
            self._refuse(code, row, column, cell.text, advice)
        return value

    def _whole(self, row: Row, name: str, limits: tuple[int, int], hint: str) -> int | None:
        """The whole number in a column, or None when the cell is empty or refused."""
        if not self._text(row, name):
            return None
        before = len(self.problems)
        value = self._number(row, name, self._columns.places[name], limits, hint)
        if value is not None and value != int(value):
            text = self._text(row, name)
            self._refuse("NOT_WHOLE", row, name, text, f"“{shown(text)}” is not a whole number; {hint}")
        return int(value) if value is not None and len(self.problems) == before else None

    def _replicate(self, row: Row) -> int | None:
        return self._whole(row, "replicate", REPLICATE_RANGE, "number repeated readings 1, 2, 3, …")

    def _is_read(self, row: Row) -> bool:
        """Whether any density cell of the row is filled."""
        return any(at < len(row.cells) and row.cells[at].text for at, _ in self._columns.densities)

    def _densities(self, row: Row, replicate: int | None) -> list[tuple[float, int | None]]:
        """Density and replicate number of every filled density cell."""
        found = []
        for at, number in self._columns.densities:
            if at >= len(row.cells) or not row.cells[at].text:
                continue
            column = "density" if number is None else f"density_{number}"
            value = self._number(row, column, at, DENSITY_RANGE, "perhaps a decimal point is missing")
            if value is not None:
                found.append((value, replicate if number is None else number))
        return found


def column_letters(index: int) -> str:
    """How a spreadsheet calls a column.

    Parameters
    ----------
    index : int
        From 0.

    Returns
    -------
    str

    Examples
    --------
    >>> column_letters(0), column_letters(27)
    ('A', 'AB')
    """
    letters = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def _range(limits: tuple[float, float]) -> str:
    low, high = (f"{limit:g}".replace("-", "−") for limit in limits)
    return f"{low} to {high}"
