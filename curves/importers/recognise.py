"""The front door: any file's bytes in, rows of cells out; the kind is told by the content alone."""

from __future__ import annotations

from curves.importers.cgats import is_cgats, read_cgats
from curves.importers.problems import problem
from curves.importers.tables import ParsedFile
from curves.importers.text import decode_text, read_separated
from curves.importers.workbook import read_workbook

MAX_BYTES = 2 * 1024 * 1024
"""Largest accepted file. A roll of three strips with 31 steps read three times fills some 10 kB."""

MAX_ROWS = 10_000
"""Most rows that hold something, the header among them."""

MAX_COLUMNS = 64
"""Most columns of a table."""


def read_table(data: bytes, *, filename: str | None = None) -> ParsedFile:
    """Take a CSV, XLSX or CGATS file apart into rows of cells.

    The kind is recognised by content; the name is used in messages only. Nothing is raised for a bad
    file: what is wrong with it comes back as problems.

    Parameters
    ----------
    data : bytes
        The whole file, or at least `MAX_BYTES` + 1 bytes of a larger one.
    filename : str or None

    Returns
    -------
    ParsedFile

    Examples
    --------
    >>> parsed = read_table(b"log_exposure;density\\n-2,1;0,20\\n")
    >>> parsed.kind, len(parsed.rows), parsed.comma
    ('csv', 2, 'decimal')
    """
    if len(data) > MAX_BYTES:
        advice = f"the file is larger than {MAX_BYTES // 1024**2} MB; give the readings of one roll per file"
        return ParsedFile(filename, "unknown", problems=(problem("TOO_LARGE", advice),))
    if data.startswith((b"PK\x03\x04", b"PK\x05\x06")):
        return read_workbook(data, filename=filename, max_rows=MAX_ROWS, max_columns=MAX_COLUMNS)
    text, refusal = decode_text(data)
    if refusal:
        return ParsedFile(filename, "unknown", problems=(refusal,))
    read = read_cgats if is_cgats(text) else read_separated
    return read(text, filename=filename, max_rows=MAX_ROWS, max_columns=MAX_COLUMNS)
