"""XLSX workbooks to rows of cells: sizes are checked before opening, formulas are never computed."""

from __future__ import annotations

import io
import warnings
import zipfile
from collections.abc import Sequence

import openpyxl
from defusedxml.ElementTree import iterparse
from openpyxl.utils import range_boundaries

from curves.importers.header import MAX_HEADER_DEPTH, known_names
from curves.importers.problems import Problem, problem
from curves.importers.tables import Cell, ParsedFile, Row
from curves.importers.text import too_large

MAX_UNPACKED_BYTES = 12 * 1024 * 1024
"""A full table of readings at the row limit unpacks to a quarter of this."""

SHEET_ROWS = 1_048_576
"""Rows of the largest sheet that a spreadsheet program makes."""

MAX_SIDE_PART_BYTES = 1024 * 1024
"""Styles, names and relations are small in an honest workbook, and slow to read in a dishonest one."""

MAX_PARTS = 500
"""A workbook has some ten parts and one or two for each sheet."""

_CELL_KINDS = {"f": "formula", "d": "date", "e": "error"}


def read_workbook(data: bytes, *, filename: str | None, max_rows: int, max_columns: int) -> ParsedFile:
    """Take the readings' sheet of a workbook apart.

    The first visible sheet that names known columns is taken, else the first visible one.

    Parameters
    ----------
    data : bytes
        Content of a ZIP file.
    filename : str or None
    max_rows, max_columns : int
        Limits past which the file is refused.

    Returns
    -------
    ParsedFile
    """
    refusal = _unfit_archive(data)
    if refusal:
        return ParsedFile(filename, "unknown", problems=(refusal,))
    try:
        # A hostile file can break the parser in any way that XML and ZIP allow, and the library passes
        # on whatever its own parsers raise; each of them means the same to the user.
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            rows, problems, notes = _read_sheets(data, max_rows, max_columns)
    except Exception:
        advice = "the workbook is damaged or not plain .xlsx; save it again as .xlsx, or as CSV UTF-8"
        return ParsedFile(filename, "xlsx", problems=(problem("DAMAGED_FILE", advice),))
    return ParsedFile(filename, "xlsx", rows, problems, notes, comma="decimal")


def _unfit_archive(data: bytes) -> Problem | None:
    """Why the archive must not be opened as a workbook, from its directory alone."""
    try:
        parts = zipfile.ZipFile(io.BytesIO(data)).infolist()
    except (zipfile.BadZipFile, ValueError, NotImplementedError):
        advice = "the workbook is cut short or damaged; save it again as .xlsx, or as CSV UTF-8"
        return problem("DAMAGED_FILE", advice)
    if "xl/workbook.xml" not in {part.filename for part in parts}:
        advice = "this ZIP archive is not an .xlsx workbook; save the table as .xlsx, or as CSV UTF-8"
        return problem("NOT_A_TABLE", advice)
    # zipfile stops reading a part at its declared size, so the declared sizes do bound what is unpacked.
    unpacked = sum(part.file_size for part in parts)
    side = max((part.file_size for part in parts if _is_side_part(part.filename)), default=0)
    if unpacked > MAX_UNPACKED_BYTES or side > MAX_SIDE_PART_BYTES or len(parts) > MAX_PARTS:
        advice = (
            f"the workbook would unpack to {unpacked / 1024**2:.0f} MB in {len(parts)} parts, more than "
            "readings need; copy them to a new workbook, or give CSV UTF-8"
        )
        return problem("UNPACKS_TOO_LARGE", advice)
    return None


def _is_side_part(name: str) -> bool:
    return name.endswith((".xml", ".rels")) and not name.startswith(
        ("xl/worksheets/sheet", "xl/sharedStrings")
    )


def _read_sheets(
    data: bytes, max_rows: int, max_columns: int
) -> tuple[tuple[Row, ...], tuple[Problem, ...], tuple[str, ...]]:
    book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=False, keep_links=False)
    try:
        tables = []
        for sheet in (sheet for sheet in book.worksheets if sheet.sheet_state == "visible"):
            rows, refusal = _read_rows(sheet, max_rows, max_columns)
            if refusal:
                return (), (refusal,), (f"sheet read: {sheet.title}",)
            if rows:
                tables.append((sheet, rows))
        if not tables:
            advice = "every sheet is hidden or empty; put the readings on a visible sheet"
            return (), (problem("NO_VISIBLE_SHEET", advice),), ()
        sheet, rows = next((table for table in tables if _header_row(table[1])), tables[0])
        notes = [f"sheet read: {sheet.title}"]
        others = [other.title for other in book.worksheets if other is not sheet]
        if others:
            notes.append(f"sheets not read: {', '.join(others)}")
        merged, hidden_rows = _merged_and_hidden(sheet)
        if hidden_rows:
            notes.append(f"hidden rows were read, too: {hidden_rows}")
        return tuple(rows), tuple(_merged_problems(merged, _header_row(rows) or 1)), tuple(notes)
    finally:
        book.close()


def _header_row(rows: Sequence[Row]) -> int | None:
    """Number of the first row that names two known columns."""
    named = (row.number for row in rows[:MAX_HEADER_DEPTH] if known_names([c.text for c in row.cells]) >= 2)
    return next(named, None)


def _read_rows(sheet, max_rows: int, max_columns: int) -> tuple[list[Row], Problem | None]:
    """The rows that hold something; the dimensions that the sheet declares are not believed."""
    sheet.reset_dimensions()
    rows: list[Row] = []
    touched = 0
    for number, cells in enumerate(sheet.iter_rows(), start=1):
        touched += bool(cells)
        # Rows may be far apart or hold nothing but formats; what they cost is bounded all the same.
        if touched > 2 * max_rows or number > SHEET_ROWS:
            advice = "the sheet has too many rows, though many may be empty; copy the readings to a new sheet"
            return [], problem("TOO_MANY_ROWS", advice, row=number)
        if len(cells) > 4 * max_columns:
            advice = f"the row reaches out to column {len(cells)}; copy the readings to a new sheet"
            return [], problem("TOO_MANY_COLUMNS", advice, row=number)
        row = Row(number, _trimmed(cells))
        if row.is_empty:
            continue
        rows.append(row)
        refusal = too_large(rows, max_rows=max_rows, max_columns=max_columns)
        if refusal:
            return [], refusal
    return rows, None


def _trimmed(cells: Sequence) -> tuple[Cell, ...]:
    """The cells without the empty ones at the end."""
    kept = [_cell(cell) for cell in cells]
    while kept and not kept[-1].text:
        kept.pop()
    return tuple(kept)


def _cell(cell) -> Cell:
    value = cell.value
    if value is None:
        return Cell()
    if cell.data_type in _CELL_KINDS:
        return Cell(str(value), _CELL_KINDS[cell.data_type])
    if isinstance(value, bool):
        return Cell("1" if value else "0", "number")
    if isinstance(value, int | float):
        return Cell(f"{value:.12g}", "number")
    return Cell(str(value).strip())


def _merged_and_hidden(sheet) -> tuple[list[str], int]:
    """Merged ranges and the number of hidden rows, which the library's read-only sheets do not offer."""
    merged: list[str] = []
    hidden = 0
    with sheet._get_source() as source:
        for _, element in iterparse(source):
            tag = element.tag.rpartition("}")[2]
            if tag == "mergeCell":
                merged.append(element.get("ref"))
            elif tag == "row":
                hidden += element.get("hidden") in ("1", "true")
                element.clear()
    return merged, hidden


def _merged_problems(areas: Sequence[str], header: int) -> list[Problem]:
    """Refuse merged cells from the header downwards; a merged title above the table does no harm."""
    problems = []
    for area in areas:
        _, top, _, bottom = range_boundaries(area)
        if bottom >= header:
            advice = f"the cells {area} are merged; unmerge them and give every row its own value"
            problems.append(problem("MERGED_CELLS", advice, row=top))
    return problems
