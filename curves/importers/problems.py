"""What can be wrong with a file of readings, as data: where, which value, and what would be accepted."""

from __future__ import annotations

from dataclasses import dataclass

PROBLEMS: dict[str, str] = {
    "TOO_LARGE": "The file is larger than the limit.",
    "EMPTY_FILE": "The file holds nothing.",
    "NOT_A_TABLE": "The content is of a kind that holds no readings: a picture, a document, an archive.",
    "WRONG_ENCODING": "The text is not UTF-8.",
    "DAMAGED_FILE": "The file is cut short or damaged.",
    "UNPACKS_TOO_LARGE": "The workbook declares more unpacked data than the limit.",
    "UNCLOSED_QUOTE": "A quotation mark opens and never closes.",
    "TOO_MANY_ROWS": "The table has more rows than the limit.",
    "TOO_MANY_COLUMNS": "The table has more columns than the limit.",
    "NO_VISIBLE_SHEET": "Every sheet of the workbook is hidden or empty.",
    "HEADER_MISSING": "The table starts with numbers where the names of the columns belong.",
    "MISSING_COLUMN": "A column that is needed is not there.",
    "DUPLICATE_COLUMN": "Two columns have the same meaning.",
    "UNNAMED_COLUMN": "A column has values but no name.",
    "NO_ROWS": "There is a header and no reading below it.",
    "EXTRA_CELLS": "A row has more cells than the header.",
    "EMPTY_CELL": "A value that is needed is not there.",
    "NOT_A_NUMBER": "The value is not a number.",
    "NOT_FINITE": "The value says that there is no number (NaN, inf).",
    "AMBIGUOUS_NUMBER": "The value can be read as two numbers, a decimal or a thousand.",
    "DECIMAL_COMMA": "A decimal comma stands where only a decimal point is accepted.",
    "OUT_OF_RANGE": "The number is outside the range that is plausible for its column.",
    "NOT_WHOLE": "The value is not a whole number.",
    "NOT_A_MARK": "The value is neither a yes nor a no.",
    "FORMULA_CELL": "The cell holds a formula.",
    "DATE_CELL": "The cell holds a date.",
    "ERROR_CELL": "The cell holds a spreadsheet error.",
    "MERGED_CELLS": "Cells of the table are merged.",
    "UNEXPOSED_WITH_EXPOSURE": "A reading of the unexposed area has a log exposure.",
    "DUPLICATE_READING": "The same step and replicate is given twice.",
    "CONFLICTING_EXPOSURE": "One step has two log exposures.",
    "STEP_ORDER": "Log exposure neither rises nor falls steadily with the step number.",
    "TOO_FEW_STEPS": "Fewer than two different steps were read.",
    "DENSITY_FALLS": "Density falls as log exposure rises, over the whole table.",
    "WHOLE_DENSITIES": "Every density is a whole number.",
    "WRONG_UNIT": "The name of a column states a unit in which its numbers are not taken.",
    "TOO_LONG": "The text is longer than can be kept.",
    "NOT_A_LIGHT": "The word is not one of the lights under which series are kept.",
    "SEVERAL_CHANNELS": "Densities of several channels are given and none is chosen.",
    "OTHER_CHANNEL": "No density of the channel that is wanted is there.",
    "CONFLICTING_FRAME": "Two rows say different things of how one frame was taken.",
    "FIELD_COUNT": "The number of fields or values in a CGATS table is not the number it declares.",
    "SEVERAL_TABLES": "More than one table of a CGATS file holds densities.",
    "SET_COUNT": "The number of data sets in a CGATS table is not the number it declares.",
}
"""Every problem code with its meaning in one plain sentence."""


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing to mend in a file.

    Attributes
    ----------
    row : int or None
        Line of a text file or row of a sheet, counted from 1; None when the file as a whole is meant.
    column : str or None
        Name of the column as the program knows it, or the header's own text when it is not known.
    value : str or None
        What was found there, cut to 40 characters.
    code : str
        A key of `PROBLEMS`.
    message : str
        Why it was refused and what would be accepted: a clause without the place, no full stop.
    """

    row: int | None
    column: str | None
    value: str | None
    code: str
    message: str

    @property
    def place(self) -> str:
        """Where the problem is, such as ``row 7, column density``; empty for the file as a whole."""
        parts = [f"row {self.row}"] if self.row is not None else []
        if self.column is not None:
            parts.append(f"column {self.column}")
        return ", ".join(parts)

    def __str__(self) -> str:
        return f"{self.place}: {self.message}" if self.place else self.message


def problem(
    code: str, message: str, *, row: int | None = None, column: str | None = None, value: str | None = None
) -> Problem:
    """Make a `Problem` of a known code, with its value made short and printable.

    Parameters
    ----------
    code : str
        A key of `PROBLEMS`.
    message : str
        Why, and what would be accepted.
    row, column, value : optional
        The place and what was found there.

    Returns
    -------
    Problem

    Raises
    ------
    ValueError
        For a code that is not in `PROBLEMS`.
    """
    if code not in PROBLEMS:
        raise ValueError(f"unknown problem code {code!r}")
    return Problem(row, column, None if value is None else shown(value), code, message)


def shown(value: str, *, limit: int = 40) -> str:
    """A value fit for a message: control characters made visible, cut at `limit` characters.

    Parameters
    ----------
    value : str
        Text as it came from the file.
    limit : int
        Longest result, in characters.

    Returns
    -------
    str

    Examples
    --------
    >>> shown("0.5\\x00")
    '0.5\\\\x00'
    """
    printable = "".join(c if c.isprintable() else ascii(c)[1:-1] for c in value[: limit + 1])
    return printable if len(printable) <= limit else printable[: limit - 1] + "…"
