"""Readings to files that this program, and others, read again: CSV and CGATS text."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import date

from curves.importers.tables import PatchRow, ReadingRow

_RISKY = re.compile(r"'*[=+\-@\t\r]")


def escape_text(text: str) -> str:
    """Text that no spreadsheet takes for a formula: an apostrophe is put before a leading ``= + - @``.

    Only for text: a number keeps its minus sign.

    Parameters
    ----------
    text : str

    Returns
    -------
    str

    Examples
    --------
    >>> escape_text("=1+1"), escape_text("second strip")
    ("'=1+1", 'second strip')
    """
    return f"'{text}" if _RISKY.match(text) else text


def unescape_text(text: str) -> str:
    """Undo `escape_text`.

    Parameters
    ----------
    text : str

    Returns
    -------
    str

    Examples
    --------
    >>> unescape_text(escape_text("'=1+1")), unescape_text("'tis")
    ("'=1+1", "'tis")
    """
    return text[1:] if text.startswith("'") and _RISKY.match(text) else text


def write_readings_csv(rows: Iterable[ReadingRow], *, comments: Sequence[str] = ()) -> str:
    """Readings as CSV text that `read_table` and `parse_readings` take back unchanged.

    Parameters
    ----------
    rows : iterable of ReadingRow
        Their ``row`` is not written.
    comments : sequence of str
        Lines to put above the header, such as the roll and the date.

    Returns
    -------
    str
        To be saved as UTF-8.

    Examples
    --------
    >>> print(write_readings_csv([ReadingRow(2, 0.31, -2.1, step=4)]).replace("\\r\\n", "\\n"), end="")
    step,log_exposure,density,replicate,unexposed
    4,-2.1,0.31,,
    """
    rows = list(rows)
    out = io.StringIO()
    writer = csv.writer(out)
    _write_comments(out, comments)
    has_remarks = any(row.remark for row in rows)
    names = ["step", "log_exposure", "density", "replicate", "unexposed"]
    writer.writerow([*names, "remark"] if has_remarks else names)
    for row in rows:
        cells = [_text(row.step), _text(row.log_exposure), _text(row.density), _text(row.replicate)]
        cells.append("1" if row.is_unexposed else "")
        writer.writerow([*cells, escape_text(row.remark)] if has_remarks else cells)
    return out.getvalue()


def write_patches_csv(rows: Iterable[PatchRow], *, comments: Sequence[str] = ()) -> str:
    """Patch readings as CSV text that `read_table` and `parse_patches` take back unchanged.

    Parameters
    ----------
    rows : iterable of PatchRow
        Their ``row`` and remark are not written; a density of None leaves a cell to be filled in.
    comments : sequence of str
        Lines to put above the header.

    Returns
    -------
    str
        To be saved as UTF-8.

    Examples
    --------
    >>> print(write_patches_csv([PatchRow(2, "3", "Blue", 0.71)]).replace("\\r\\n", "\\n"), end="")
    light,frame,patch,density,repeat,offset_stops,metered_index,filter
    ,3,Blue,0.71,,,,
    """
    out = io.StringIO()
    writer = csv.writer(out)
    _write_comments(out, comments)
    # The light first: a frame or patch may be called #1, and a line that starts with # is a comment.
    writer.writerow(
        ["light", "frame", "patch", "density", "repeat", "offset_stops", "metered_index", "filter"]
    )
    for row in rows:
        numbers = [
            _text(row.density),
            _text(row.replicate),
            _text(row.offset_stops),
            _text(row.metered_index),
        ]
        names = [row.light, escape_text(row.frame), escape_text(row.patch)]
        writer.writerow([*names, *numbers, escape_text(row.filter_name or "")])
    return out.getvalue()


def _write_comments(out: io.StringIO, comments: Sequence[str]) -> None:
    for comment in comments:
        # In one quoted cell, so that nothing behind a comma in it can start a formula.
        flat = re.sub(r"\s+", " ", comment).strip()
        csv.writer(out, quoting=csv.QUOTE_ALL if "," in flat else csv.QUOTE_MINIMAL).writerow([f"# {flat}"])


def write_readings_cgats(
    rows: Iterable[ReadingRow],
    *,
    originator: str,
    descriptor: str,
    created: date,
    keywords: Mapping[str, str] | None = None,
) -> str:
    """Readings as CGATS.17 text, with visual densities, that `read_table` takes back unchanged.

    Parameters
    ----------
    rows : iterable of ReadingRow
        Remarks are not written.
    originator, descriptor : str
        Who measured, and what.
    created : date
    keywords : mapping of str to str, optional
        Further keyword lines of the standard, such as INSTRUMENTATION or MEASUREMENT_GEOMETRY.

    Returns
    -------
    str

    Raises
    ------
    ValueError
        For a keyword that is no identifier of capitals, digits and underscores.
    """
    rows = list(rows)
    fields = ["SAMPLE_ID", "STEP", "LOG_H", "REPLICATE", "UNEXPOSED", "D_VIS"]
    lines = ["CGATS.17", f"ORIGINATOR {_quoted(originator)}", f"FILE_DESCRIPTOR {_quoted(descriptor)}"]
    lines.append(f"CREATED {_quoted(created.isoformat())}")
    for name, value in (keywords or {}).items():
        if not re.fullmatch(r"[A-Z][A-Z0-9_]*", name):
            raise ValueError(f"{name!r} is not a CGATS keyword")
        lines.append(f"{name} {_quoted(value)}")
    lines += [f"KEYWORD {_quoted(name)}" for name in fields[1:5]]
    lines += [f"NUMBER_OF_FIELDS {len(fields)}", "BEGIN_DATA_FORMAT", " ".join(fields), "END_DATA_FORMAT"]
    lines += [f"NUMBER_OF_SETS {len(rows)}", "BEGIN_DATA"]
    for number, row in enumerate(rows, start=1):
        values = [str(number), _text(row.step), _text(row.log_exposure), _text(row.replicate)]
        values += ["1" if row.is_unexposed else "0", _text(row.density)]
        lines.append(" ".join(value or '""' for value in values))
    return "\n".join([*lines, "END_DATA", ""])


def _text(value: float | int | None) -> str:
    """The shortest text that reads back as the same number; empty for None."""
    return "" if value is None else repr(value)


def _quoted(text: str) -> str:
    """Text in the quotation marks of CGATS, which knows no escape for one inside or for a line break."""
    flat = re.sub(r"\s+", " ", text).strip()
    return '"' + flat.replace('"', "'") + '"'
