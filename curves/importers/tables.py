"""A file on its way in: rows of cells first, readings after every cell has been checked."""

from __future__ import annotations

from dataclasses import dataclass, field

from curves.importers.problems import Problem


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell as the file gives it.

    Attributes
    ----------
    text : str
        The content as text; a spreadsheet's number is written with a decimal point.
    kind : {'text', 'number', 'formula', 'date', 'error'}
        Only spreadsheets know other kinds than text.
    """

    text: str = ""
    kind: str = "text"


@dataclass(frozen=True, slots=True)
class Row:
    """One row of cells.

    Attributes
    ----------
    number : int
        Line of the text file on which it starts, or row of the sheet, from 1.
    cells : tuple of Cell
    """

    number: int
    cells: tuple[Cell, ...]

    @property
    def is_empty(self) -> bool:
        """Whether no cell holds anything."""
        return not any(cell.text for cell in self.cells)


@dataclass(frozen=True, slots=True)
class ParsedFile:
    """A file taken apart into rows of cells, before any meaning is given to the columns.

    Attributes
    ----------
    filename : str or None
        The name to use in messages.
    kind : {'csv', 'xlsx', 'cgats', 'unknown'}
        Recognised from the content, never from the name.
    rows : tuple of Row
        Rows that hold something, the header among them; empty when the file could not be read.
    problems : tuple of Problem
    notes : tuple of str
        What was assumed, such as the separator or the sheet: plain sentences.
    comma : {'refuse', 'decimal'}
        Whether a comma inside a number may be a decimal comma in this file.
    keywords : dict of str to str
        Keyword lines of a CGATS file, else empty.
    """

    filename: str | None
    kind: str
    rows: tuple[Row, ...] = ()
    problems: tuple[Problem, ...] = ()
    notes: tuple[str, ...] = ()
    comma: str = "refuse"
    keywords: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class ReadingRow:
    """One density reading of a file.

    Attributes
    ----------
    row : int
        Line or sheet row from which it came.
    density : float
        Gross density [D].
    log_exposure : float or None
        [log10 lx s], absolute or relative; None for the unexposed area and where a tablet supplies it.
    step : int or None
        Number of the tablet's step.
    replicate : int or None
        Which of the repeated readings of the same step it is, from 1.
    is_unexposed : bool
        Whether it is a reading of the unexposed area: base plus fog.
    remark : str
    """

    row: int
    density: float
    log_exposure: float | None = None
    step: int | None = None
    replicate: int | None = None
    is_unexposed: bool = False
    remark: str = ""


@dataclass(frozen=True, slots=True)
class ReadingsTable:
    """The readings of one file, or what keeps it from being read.

    Attributes
    ----------
    filename : str or None
    kind : {'csv', 'xlsx', 'cgats', 'unknown'}
    rows : tuple of ReadingRow
        The rows in which nothing is wrong, in the file's order; use them only when `is_valid`.
    problems : tuple of Problem
        All of them, in the file's order.
    notes : tuple of str
        What was assumed: plain sentences.
    keywords : dict of str to str
        Keyword lines of a CGATS file, else empty.
    """

    filename: str | None
    kind: str
    rows: tuple[ReadingRow, ...]
    problems: tuple[Problem, ...]
    notes: tuple[str, ...]
    keywords: dict[str, str]

    @property
    def is_valid(self) -> bool:
        """Whether the file may be used: it has readings and no problem."""
        return bool(self.rows) and not self.problems


@dataclass(frozen=True, slots=True)
class PatchRow:
    """One density of one patch on one frame.

    Attributes
    ----------
    row : int
        Line or sheet row from which it came.
    frame, patch : str
        Names of the frame and of the patch, as the file has them.
    density : float or None
        Gross density [D]; None only in a table that is to be filled in.
    replicate : int or None
        Which of the repeated readings of the patch it is, from 1.
    offset_stops : float or None
        Exposure against the metered one [stop]; None where the file does not say.
    metered_index : float or None
        Exposure index that the meter was set to; None where the file does not say.
    filter_name : str or None
        Empty for none; None where the file does not say.
    light : str
        ``daylight``, ``tungsten`` or empty.
    remark : str
    """

    row: int
    frame: str
    patch: str
    density: float | None
    replicate: int | None = None
    offset_stops: float | None = None
    metered_index: float | None = None
    filter_name: str | None = None
    light: str = ""
    remark: str = ""


@dataclass(frozen=True, slots=True)
class PatchTable:
    """The patch readings of one file, or what keeps it from being read.

    Attributes
    ----------
    filename : str or None
    kind : {'csv', 'xlsx', 'cgats', 'unknown'}
    rows : tuple of PatchRow
        The rows in which nothing is wrong, in the file's order; use them only when `is_valid`.
    problems : tuple of Problem
        All of them, in the file's order.
    notes : tuple of str
        What was assumed: plain sentences.
    """

    filename: str | None
    kind: str
    rows: tuple[PatchRow, ...]
    problems: tuple[Problem, ...]
    notes: tuple[str, ...]

    @property
    def is_valid(self) -> bool:
        """Whether the file may be used: it has readings and no problem."""
        return bool(self.rows) and not self.problems
