"""Bytes to text, and text with separators to rows; whatever is not UTF-8 text is refused by name."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Sequence

from curves.importers.header import MAX_HEADER_DEPTH, known_names
from curves.importers.problems import Problem, problem, shown
from curves.importers.tables import Cell, ParsedFile, Row

SEPARATORS = {"\t": "tab", ";": "semicolon", ",": "comma"}
"""Accepted separators and how a note calls them; the order settles a tie."""

_SIGNATURES: tuple[tuple[bytes, str], ...] = (
    (b"\x89PNG", "a PNG picture"),
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"GIF8", "a GIF picture"),
    (b"II*\x00", "a TIFF picture"),
    (b"MM\x00*", "a TIFF picture"),
    (b"%PDF", "a PDF document"),
    (b"\x1f\x8b", "a gzip archive"),
    (b"7z\xbc\xaf", "a 7z archive"),
    (b"Rar!", "a RAR archive"),
    (b"\xd0\xcf\x11\xe0", "an old .xls workbook or one with a password"),
)
_CONTROL = re.compile(r"[\x00-\x08\x0e-\x1f\x7f]")
_ASK = "give a CSV file (UTF-8), an .xlsx workbook or a CGATS text file"


def decode_text(data: bytes) -> tuple[str, Problem | None]:
    """Decode UTF-8 text, with or without a byte order mark.

    Parameters
    ----------
    data : bytes

    Returns
    -------
    text : str
        Lines end with ``\\n``; empty when there is a problem.
    problem : Problem or None
    """
    for signature, kind in _SIGNATURES:
        if data.startswith(signature):
            return "", problem("NOT_A_TABLE", f"this is {kind}, not a table; {_ASK}")
    if data.startswith((b"\xff\xfe", b"\xfe\xff")) or _looks_like_utf16(data):
        advice = "the text is in UTF-16 (“Unicode text”), not UTF-8; save it as “CSV UTF-8”"
        return "", problem("WRONG_ENCODING", advice, row=1)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        return "", _not_utf8(data, error.start)
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    control = _CONTROL.search(text)
    if control:
        row = text.count("\n", 0, control.start()) + 1
        advice = f"a control character 0x{ord(control.group()):02X} shows that this is no plain text; {_ASK}"
        return "", problem("NOT_A_TABLE", advice, row=row)
    if not text.strip():
        return "", problem("EMPTY_FILE", f"the file is empty; {_ASK}")
    return text, None


def _looks_like_utf16(data: bytes) -> bool:
    """ASCII text in UTF-16 without a mark has a NUL in nearly every second byte, always on one side."""
    head = data[:400]
    pairs = len(head) // 2
    return (
        pairs >= 2
        and max(head[0::2].count(0), head[1::2].count(0)) > 0.8 * pairs
        and min(head[0::2].count(0), head[1::2].count(0)) == 0
    )


def _not_utf8(data: bytes, at: int) -> Problem:
    byte = data[at]
    row = data.count(b"\n", 0, at) + 1
    likely = bytes([byte]).decode("cp1252", errors="replace")
    hint = f" (in Latin-1 it would be “{likely}”)" if likely.isprintable() and likely != "\ufffd" else ""
    advice = f"byte 0x{byte:02X} at position {at + 1} is not UTF-8{hint}; save the file as “CSV UTF-8”"
    return problem("WRONG_ENCODING", advice, row=row, value=f"0x{byte:02X}")


class _RecordLines(Iterator[str]):
    """Lines for `csv.reader` that passes over comments between records, but not inside a quoted cell."""

    def __init__(self, lines: Sequence[str]) -> None:
        self._lines = lines
        self.number = 0
        self.start = 0
        self.is_inside = False
        self.passed_over: list[int] = []

    def __next__(self) -> str:
        while self.number < len(self._lines):
            line = self._lines[self.number]
            self.number += 1
            if not self.is_inside:
                if is_comment(line):
                    self.passed_over.append(self.number)
                    continue
                self.start = self.number
                self.is_inside = True
            return line + "\n"
        raise StopIteration


def is_comment(line: str) -> bool:
    """Whether a line is a comment: ``#`` first, perhaps in quotation marks (as spreadsheets save it).

    Parameters
    ----------
    line : str

    Returns
    -------
    bool

    Examples
    --------
    >>> is_comment("# strip 3"), is_comment('"# strip 3, again"'), is_comment("1,0.3")
    (True, True, False)
    """
    return line.lstrip().lstrip('"').startswith("#")


def read_separated(text: str, *, filename: str | None, max_rows: int, max_columns: int) -> ParsedFile:
    """Take comma, semicolon or tab separated text apart.

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
    """
    lines = text.split("\n")
    separator, is_told = _separator(lines)
    if is_told:
        lines[0] = ""
    source = _RecordLines(lines)
    rows: list[Row] = []
    problems: list[Problem] = []
    try:
        for record in csv.reader(source, delimiter=separator, strict=True):
            row = _row(source.start, record)
            source.is_inside = False
            if not row.is_empty:
                rows.append(row)
            refusal = too_large(rows, max_rows=max_rows, max_columns=max_columns)
            if refusal:
                problems.append(refusal)
                break
    except csv.Error as error:
        problems.append(_broken_record(str(error), source.start, lines))
    notes = [f"cells are separated by: {SEPARATORS[separator]}"]
    below = [number for number in source.passed_over if rows and number > rows[0].number]
    if below:
        # A name may start with #, too; so what was taken for a comment among the readings is told.
        notes.append(f"lines below the header that start with # passed over: {_listed(below)}")
    comma = "refuse" if separator == "," else "decimal"
    return ParsedFile(filename, "csv", () if problems else tuple(rows), tuple(problems), tuple(notes), comma)


def _listed(numbers: Sequence[int]) -> str:
    return ", ".join(map(str, numbers[:5])) + (f" and {len(numbers) - 5} more" if len(numbers) > 5 else "")


def too_large(rows: Sequence[Row], *, max_rows: int, max_columns: int) -> Problem | None:
    """The refusal that the newest row calls for, if any.

    Parameters
    ----------
    rows : sequence of Row
    max_rows, max_columns : int

    Returns
    -------
    Problem or None
    """
    if len(rows) > max_rows:
        advice = f"there are more than {max_rows} rows; give one strip or roll per file"
        return problem("TOO_MANY_ROWS", advice, row=rows[-1].number)
    if rows and len(rows[-1].cells) > max_columns:
        advice = f"there are {len(rows[-1].cells)} columns; at most {max_columns} are read"
        return problem("TOO_MANY_COLUMNS", advice, row=rows[-1].number)
    return None


def _row(number: int, record: Sequence[str]) -> Row:
    cells = [Cell(text.strip()) for text in record]
    while cells and not cells[-1].text:
        cells.pop()
    return Row(number, tuple(cells))


def _separator(lines: Sequence[str]) -> tuple[str, bool]:
    """The separator and whether the file itself names it by a first line ``sep=;``."""
    told = re.fullmatch(r'"?sep=([,;\t])"?', lines[0].strip(" "))
    if told:
        return told.group(1), True
    head = [line for line in lines if line.strip() and not is_comment(line)][:MAX_HEADER_DEPTH]

    def fitness(separator: str) -> tuple[int, int]:
        named = max((known_names(line.replace('"', "").split(separator)) for line in head), default=0)
        return (named if named > 1 else 0, head[0].count(separator) if head else 0)

    return max(SEPARATORS, key=fitness), False


def _broken_record(error: str, row: int, lines: Sequence[str]) -> Problem:
    value = lines[row - 1] if row else None
    if "limit" in error:
        return problem("NOT_A_TABLE", f"a cell is longer than any reading or remark; {_ASK}", row=row)
    advice = (
        "a quotation mark opens a cell and is not closed as it should be; take it out, or double those inside"
    )
    return problem("UNCLOSED_QUOTE", advice, row=row, value=None if value is None else shown(value))
