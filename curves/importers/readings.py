"""Rows of cells to readings: every cell is checked, and all that is wrong is told at once."""

from __future__ import annotations

from curves.importers.checks import check_readings
from curves.importers.header import column_notes, find_columns
from curves.importers.problems import problem
from curves.importers.reading_rows import RowReader
from curves.importers.tables import ParsedFile, ReadingRow, ReadingsTable


def parse_readings(parsed: ParsedFile, *, require: str = "log_exposure") -> ReadingsTable:
    """Give meaning to the cells of a file.

    Parameters
    ----------
    parsed : ParsedFile
        What `read_table` returned.
    require : {'log_exposure', 'step'}
        What must place a reading on the exposure axis: its log exposure, or the number of a step whose
        exposure a calibrated tablet supplies.

    Returns
    -------
    ReadingsTable

    Raises
    ------
    ValueError
        For another value of `require`.

    Examples
    --------
    >>> from curves.importers import read_table
    >>> table = parse_readings(read_table(b"step,density\\n1,0.2\\n2,0.3x\\n"), require="step")
    >>> [str(problem) for problem in table.problems]
    ['row 3, column density: “0.3x” is not a number; write digits only, such as 0.53']
    """
    if require not in ("log_exposure", "step"):
        raise ValueError(f"require must be 'log_exposure' or 'step', not {require!r}")
    problems = list(parsed.problems)
    notes = list(parsed.notes)
    rows: list[ReadingRow] = []
    if parsed.rows and not problems:
        columns, start, found = find_columns(parsed, require=[require])
        problems += found
        if columns is not None:
            body = parsed.rows[start:]
            reader = RowReader(parsed, columns, body, require)
            rows = [reading for row in body for reading in reader.readings(row)]
            problems += reader.problems
            notes += column_notes(columns, start)
            rows, more, remarks = check_readings(rows, columns.header.number, is_complete=not problems)
            problems += more
            notes += remarks
    elif not problems:
        problems.append(
            problem("EMPTY_FILE", "the file holds nothing but comments; give a table of readings")
        )
    problems.sort(key=lambda found: found.row or 0)
    return ReadingsTable(
        parsed.filename, parsed.kind, tuple(rows), tuple(problems), tuple(notes), parsed.keywords
    )
