"""One row of cells to its readings, each cell checked against what its column can hold."""

from __future__ import annotations

from curves.importers.export import unescape_text
from curves.importers.header import Columns
from curves.importers.numbers import comma_is_decimal, parse_number
from curves.importers.problems import Problem, problem, shown
from curves.importers.tables import Cell, ParsedFile, ReadingRow, Row

DENSITY_RANGE = (-0.1, 6.0)
"""Plausible densities [D]: a clear film reads a little below zero on an ill-zeroed instrument, and no
densitometer reaches 6 (common practice, no source)."""

LOG_EXPOSURE_RANGE = (-10.0, 10.0)
"""Plausible log exposures [log10 lx s]: ten decades to either side of 1 lx s."""

STEP_RANGE = (0, 999)
REPLICATE_RANGE = (1, 999)

_YES = frozenset({"1", "true", "yes"})
_NO = frozenset({"", "0", "false", "no"})

_CELL_FAULTS = {
    "formula": ("FORMULA_CELL", "a formula ({}), whose result is not trusted; paste it as a value"),
    "date": ("DATE_CELL", "a date ({}), into which a spreadsheet turned what was typed; type it as a number"),
    "error": ("ERROR_CELL", "the spreadsheet error {}; give the reading itself"),
}


class RowReader:
    """Reads the rows of one table and gathers what is wrong with their cells."""

    def __init__(self, parsed: ParsedFile, columns: Columns, body: tuple[Row, ...], require: str) -> None:
        self.problems: list[Problem] = []
        self._columns = columns
        self._require = require
        self._is_sheet = parsed.kind == "xlsx"
        self._comma = parsed.comma
        numeric = [columns.places[name] for name in ("log_exposure", "step") if name in columns.places]
        numeric += [at for at, _ in columns.densities]
        cells = (row.cells[at].text for row in body for at in numeric if at < len(row.cells))
        self._comma_is_sure = parsed.comma == "decimal" and comma_is_decimal(cells)

    def readings(self, row: Row) -> list[ReadingRow]:
        """The readings of one row: one, or one for each filled density column; none if one is bad."""
        before = len(self.problems)
        self._check_width(row)
        is_unexposed = self._mark(row)
        log_exposure = self._log_exposure(row, is_unexposed)
        step = self._whole(row, "step", STEP_RANGE)
        if self._require == "step" and step is None and not is_unexposed and not self._text(row, "step"):
            self._refuse(
                "EMPTY_CELL",
                row,
                "step",
                "",
                "the number of the step is missing; give it, or mark the "
                "reading by 1 in the column unexposed if it is base plus fog",
            )
        replicate = self._whole(row, "replicate", REPLICATE_RANGE)
        densities = self._densities(row, replicate)
        if len(self.problems) > before:
            return []
        remark = unescape_text(self._text(row, "remark"))
        return [
            ReadingRow(row.number, density, log_exposure, step, number, is_unexposed, remark)
            for density, number in densities
        ]

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

    def _whole(self, row: Row, name: str, limits: tuple[int, int]) -> int | None:
        """The whole number in a column, or None when the cell is empty or refused."""
        if not self._text(row, name):
            return None
        before = len(self.problems)
        hint = "number them as on the tablet" if name == "step" else "number repeated readings 1, 2, 3, …"
        value = self._number(row, name, self._columns.places[name], limits, hint)
        if value is not None and value != int(value):
            text = self._text(row, name)
            self._refuse("NOT_WHOLE", row, name, text, f"“{shown(text)}” is not a whole number; {hint}")
        return int(value) if value is not None and len(self.problems) == before else None

    def _mark(self, row: Row) -> bool:
        """Whether the row is marked as unexposed area."""
        at = self._columns.places.get("unexposed")
        if at is None or at >= len(row.cells) or self._is_faulty(row, "unexposed", at):
            return False
        text = row.cells[at].text.lower()
        if text not in _YES | _NO:
            advice = f"“{shown(text)}” is no mark; write 1 for base plus fog and leave the others empty"
            self._refuse("NOT_A_MARK", row, "unexposed", text, advice)
        return text in _YES

    def _log_exposure(self, row: Row, is_unexposed: bool) -> float | None:
        name = "log_exposure"
        text = self._text(row, name)
        if is_unexposed and text:
            advice = "base plus fog has had no exposure; empty this cell, or the mark in the column unexposed"
            self._refuse("UNEXPOSED_WITH_EXPOSURE", row, name, text, advice)
        elif text:
            hint = "give log10 of the exposure in lux seconds, or relative to any step"
            return self._number(row, name, self._columns.places[name], LOG_EXPOSURE_RANGE, hint)
        elif not is_unexposed and self._require == name:
            advice = "the log exposure is missing; give it, or write 1 under unexposed for base plus fog"
            self._refuse("EMPTY_CELL", row, name, "", advice)
        return None

    def _densities(self, row: Row, replicate: int | None) -> list[tuple[float, int | None]]:
        """Density and replicate number of every filled density cell; at least one must be filled."""
        found = []
        is_filled = False
        for at, number in self._columns.densities:
            if at >= len(row.cells) or not row.cells[at].text:
                continue
            is_filled = True
            column = "density" if number is None else f"density_{number}"
            value = self._number(row, column, at, DENSITY_RANGE, "perhaps a decimal point is missing")
            if value is not None:
                found.append((value, replicate if number is None else number))
        if not is_filled:
            advice = "the density is missing; give it, or take the row out"
            self._refuse("EMPTY_CELL", row, "density", "", advice)
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
