"""CGATS.17 / ISO 28178 exchange text to rows of cells.

The grammar: a first line with the type of the file, keyword lines in any order, a list of fields between
BEGIN_DATA_FORMAT and END_DATA_FORMAT, and values between BEGIN_DATA and END_DATA; text in double quotes,
separators blank and tab, comments from ``#`` on; the decimal mark is always a point. The standard has no
field for log exposure, step, replicate or unexposed area, so these are declared by KEYWORD.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from curves.importers.problems import Problem, problem
from curves.importers.tables import Cell, ParsedFile, Row

FIELDS: dict[str, str] = {
    "LOG_H": "log_exposure",
    "STEP": "step",
    "SAMPLE_ID": "step",
    "REPLICATE": "replicate",
    "UNEXPOSED": "unexposed",
    "REMARK": "remark",
}
"""Field names of a CGATS table, beside the densities, and the columns that they become."""

DENSITY_FIELDS = ("D_VIS", "D_MAJOR_FILTER", "D_GREEN", "D_RED", "D_BLUE")
"""Density fields in the order of preference: a silver image is measured by visual density."""

_TYPE_LINE = re.compile(r"(?:CGATS(?:\.\d+)?|IT8\.7/\d|ISO ?28178\S*)\s*$")
_TOKEN = re.compile(r'"(?P<quoted>[^"]*)"|(?P<comment>#.*)|(?P<open>".*)|(?P<plain>[^\s"#][^\s"]*)')


@dataclass(slots=True)
class _Table:
    """One table while it is read: tokens with their lines."""

    fields: list[str] = field(default_factory=list)
    values: list[tuple[int, list[str]]] = field(default_factory=list)
    format_line: int = 0
    declared_fields: int | None = None
    declared_sets: int | None = None


def is_cgats(text: str) -> bool:
    """Whether text is a CGATS file: by its first line, or because it opens a data format.

    Parameters
    ----------
    text : str

    Returns
    -------
    bool

    Examples
    --------
    >>> is_cgats("CGATS.17\\nORIGINATOR \\"Lab\\""), is_cgats("step,density")
    (True, False)
    """
    first = next((line for line in text.split("\n") if line.strip()), "")
    return bool(
        _TYPE_LINE.match(first.strip()) or re.search(r"^\s*BEGIN_DATA_FORMAT\s*$", text, re.MULTILINE)
    )


def read_cgats(text: str, *, filename: str | None, max_rows: int, max_columns: int) -> ParsedFile:
    """Take the one density table of a CGATS file apart; a wrong count of fields or sets is refused.

    Parameters
    ----------
    text : str
        Lines end with ``\\n``.
    filename : str or None
    max_rows, max_columns : int
        Limits past which the file is refused.

    Returns
    -------
    ParsedFile
        The header row carries this program's column names.
    """
    reader = _Reader()
    for number, line in enumerate(text.split("\n"), start=1):
        reader.take(number, line)
    problems = reader.finish()
    tables = [table for table in reader.tables if any(name in DENSITY_FIELDS for name in table.fields)]
    if not problems:
        problems = _unfit_tables(tables, max_rows, max_columns)
    if problems:
        return ParsedFile(filename, "cgats", problems=tuple(problems), keywords=reader.keywords)
    rows, notes = _rows(tables[0])
    if len(reader.tables) > 1:
        notes.append(f"tables without densities passed over: {len(reader.tables) - 1}")
    return ParsedFile(filename, "cgats", tuple(rows), (), tuple(notes), "refuse", reader.keywords)


class _Reader:
    """State between the lines of a CGATS file: which section is open, and what was found so far."""

    def __init__(self) -> None:
        self.tables: list[_Table] = []
        self.keywords: dict[str, str] = {}
        self.problems: list[Problem] = []
        self._table = _Table()
        self._section = ""
        self._opened = 0

    def take(self, number: int, line: str) -> None:
        """Read one line."""
        tokens = self._tokens(number, line)
        if not tokens:
            return
        word = tokens[0]
        if word in ("BEGIN_DATA_FORMAT", "BEGIN_DATA"):
            self._section, self._opened = word, number
            if word == "BEGIN_DATA_FORMAT":
                self._table.fields, self._table.format_line = [], number
        elif word == "END_DATA_FORMAT":
            self._section = ""
        elif word == "END_DATA":
            self._section = ""
            self.tables.append(self._table)
            # A further table keeps the fields of the one before it unless it names its own.
            self._table = _Table(list(self._table.fields), [], self._table.format_line)
        elif self._section == "BEGIN_DATA_FORMAT":
            self._table.fields.extend(tokens)
        elif self._section == "BEGIN_DATA":
            self._table.values.append((number, tokens))
        else:
            self._take_keyword(number, tokens)

    def finish(self) -> list[Problem]:
        """All that is wrong with the sections as a whole."""
        if self._section:
            end = self._section.replace("BEGIN", "END")
            advice = f"{self._section} has no {end}: the file is cut short; export it again"
            self.problems.append(problem("DAMAGED_FILE", advice, row=self._opened))
        elif not self.tables:
            advice = (
                "there is no table: BEGIN_DATA_FORMAT … END_DATA_FORMAT and BEGIN_DATA … END_DATA are needed"
            )
            self.problems.append(problem("NO_ROWS", advice))
        return self.problems

    def _tokens(self, number: int, line: str) -> list[str]:
        tokens = []
        for match in _TOKEN.finditer(line):
            if match.lastgroup == "comment":
                break
            if match.lastgroup == "open":
                advice = "a quotation mark opens a text and does not close it on the same line"
                self.problems.append(problem("UNCLOSED_QUOTE", advice, row=number, value=match.group()))
                break
            tokens.append(match.group(match.lastgroup or 0))
        return tokens

    def _take_keyword(self, number: int, tokens: Sequence[str]) -> None:
        word, value = tokens[0], " ".join(tokens[1:])
        if word in ("NUMBER_OF_FIELDS", "NUMBER_OF_SETS"):
            code = "FIELD_COUNT" if word == "NUMBER_OF_FIELDS" else "SET_COUNT"
            if not value.isascii() or not value.isdigit():
                advice = f"{word} must be followed by a whole number"
                self.problems.append(problem(code, advice, row=number, value=value))
            elif code == "FIELD_COUNT":
                self._table.declared_fields = int(value)
            else:
                self._table.declared_sets = int(value)
        elif word != "KEYWORD" and value:
            self.keywords.setdefault(word, value)


def _unfit_tables(tables: Sequence[_Table], max_rows: int, max_columns: int) -> list[Problem]:
    """Why the readings cannot be taken: no density table, several, or counts that do not match."""
    if not tables:
        advice = f"no table has a density field; name one of {', '.join(DENSITY_FIELDS)}"
        return [problem("MISSING_COLUMN", advice, column="density")]
    if len(tables) > 1:
        advice = f"{len(tables)} tables hold densities; give one table per file"
        return [problem("SEVERAL_TABLES", advice, row=tables[1].format_line)]
    table = tables[0]
    width = len(table.fields)
    if width > max_columns:
        advice = f"there are {width} fields; at most {max_columns} are read"
        return [problem("TOO_MANY_COLUMNS", advice, row=table.format_line)]
    if len(table.values) > max_rows:
        advice = f"there are more than {max_rows} rows; give one strip or roll per file"
        return [problem("TOO_MANY_ROWS", advice)]
    if table.declared_fields not in (None, width):
        advice = f"NUMBER_OF_FIELDS says {table.declared_fields}, but {width} fields are named"
        return [problem("FIELD_COUNT", advice, row=table.format_line, value=str(table.declared_fields))]
    return _unfit_sets(table)


def _unfit_sets(table: _Table) -> list[Problem]:
    width = len(table.fields)
    ragged = [(line, values) for line, values in table.values if len(values) != width]
    total = sum(len(values) for _, values in table.values)
    if ragged and total != width * (table.declared_sets or 0):
        return [
            problem(
                "FIELD_COUNT",
                f"there are {len(values)} values for {width} fields ({' '.join(table.fields)})",
                row=line,
                value=" ".join(values),
            )
            for line, values in ragged
        ]
    if table.declared_sets not in (None, total // width):
        advice = f"NUMBER_OF_SETS says {table.declared_sets}, but there are {total // width} sets"
        return [problem("SET_COUNT", advice, row=table.values[-1][0] if table.values else None)]
    return []


def _rows(table: _Table) -> tuple[list[Row], list[str]]:
    """The header and the sets; values may be broken over lines in any way, so they are counted off."""
    density = next(name for name in DENSITY_FIELDS if name in table.fields)
    notes = [f"density read from the field {density}"]
    tokens = [(line, value) for line, values in table.values for value in values]
    width = len(table.fields)
    sets = [tokens[at : at + width] for at in range(0, len(tokens), width)]
    names = dict(FIELDS)
    if "STEP" in table.fields or not _ids_are_steps(table.fields, sets):
        del names["SAMPLE_ID"]
    header = [Cell("density" if name == density else names.get(name, name)) for name in table.fields]
    rows = [Row(table.format_line + 1, tuple(header))]
    rows += [Row(values[0][0], tuple(Cell(value) for _, value in values)) for values in sets]
    return [row for row in rows if not row.is_empty], notes


def _ids_are_steps(fields: Sequence[str], sets: Sequence[Sequence[tuple[int, str]]]) -> bool:
    """Whether the sample names count the steps of the tablet: all of them whole numbers."""
    if "SAMPLE_ID" not in fields:
        return False
    at = fields.index("SAMPLE_ID")
    return all(values[at][1].isascii() and values[at][1].isdigit() for values in sets)
