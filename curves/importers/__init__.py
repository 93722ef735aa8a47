"""Files of readings to rows, and back: CSV, XLSX and CGATS, with every problem told at once.

Pure: bytes in, frozen rows and problems out; nothing is stored and nothing is raised for a bad file.

    parsed = read_table(data, filename="roll.csv")
    table = parse_readings(parsed, require="log_exposure")
    if table.is_valid: ...
"""

from curves.importers.export import (
    escape_text,
    unescape_text,
    write_patches_csv,
    write_readings_cgats,
    write_readings_csv,
)
from curves.importers.patches import parse_patches
from curves.importers.problems import PROBLEMS, Problem
from curves.importers.readings import parse_readings
from curves.importers.recognise import MAX_BYTES, MAX_COLUMNS, MAX_ROWS, read_table
from curves.importers.tables import Cell, ParsedFile, PatchRow, PatchTable, ReadingRow, ReadingsTable, Row

__all__ = [
    "MAX_BYTES",
    "MAX_COLUMNS",
    "MAX_ROWS",
    "PROBLEMS",
    "Cell",
    "ParsedFile",
    "PatchRow",
    "PatchTable",
    "Problem",
    "ReadingRow",
    "ReadingsTable",
    "Row",
    "escape_text",
    "parse_patches",
    "parse_readings",
    "read_table",
    "unescape_text",
    "write_patches_csv",
    "write_readings_cgats",
    "write_readings_csv",
]
