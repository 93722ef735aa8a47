"""Which column is which: the names that are understood, and where the header is."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches

from curves.importers.numbers import clean_number
from curves.importers.problems import Problem, problem, shown
from curves.importers.tables import ParsedFile, Row

ALIASES: dict[str, str] = {
    "log_exposure": "log_exposure",
    "log_h": "log_exposure",
    "logh": "log_exposure",
    "log_e": "log_exposure",
    "density": "density",
    "gross_density": "density",
    "d": "density",
    "step": "step",
    "step_number": "step",
    "replicate": "replicate",
    "reading": "replicate",
    "unexposed": "unexposed",
    "base_plus_fog": "unexposed",
    "remark": "remark",
    "remarks": "remark",
}
"""Every accepted name of a column of readings, in lower case with underscores, and what it means."""

PATCH_ALIASES: dict[str, str] = {
    "frame": "frame",
    "frame_number": "frame",
    "negative": "frame",
    "patch": "patch",
    "patch_name": "patch",
    "sample_id": "patch",
    "density": "density",
    "gross_density": "density",
    "d": "density",
    "replicate": "replicate",
    "repeat": "replicate",
    "reading": "replicate",
    "offset": "offset_stops",
    "offset_stops": "offset_stops",
    "bracket": "offset_stops",
    "index": "metered_index",
    "meter_index": "metered_index",
    "metered_index": "metered_index",
    "filter": "filter",
    "filter_name": "filter",
    "light": "light",
    "light_source": "light",
    "channel": "channel",
    "density_type": "channel",
    "status": "channel",
    "remark": "remark",
    "remarks": "remark",
}
"""The same for readings of the patches of a target."""

VOCABULARIES = (ALIASES, PATCH_ALIASES)

MAX_HEADER_DEPTH = 20
"""The header is looked for in so many rows; instruments like to write a few lines of their own first."""

_WIDE = re.compile(r"(?:density|d)_?([1-9]\d?)")
_NUMERIC = re.compile(r"[+-]?[\d.,]+(?:[eE][+-]?\d+)?", re.ASCII)


@dataclass(frozen=True, slots=True)
class Columns:
    """Where each known column is.

    Attributes
    ----------
    header : Row
    places : dict of str to int
        Index of the cell for each known name; not for wide density columns.
    densities : tuple of (int, int or None)
        Index of each density column with its replicate number; one pair ``(index, None)`` in a long table.
    unknown : tuple of str
        Names of the columns that are passed over.
    """

    header: Row
    places: dict[str, int] = field(default_factory=dict)
    densities: tuple[tuple[int, int | None], ...] = ()
    unknown: tuple[str, ...] = ()


def canonical_name(text: str, aliases: Mapping[str, str] = ALIASES) -> str | None:
    """What a header cell means: a known column, ``density_N`` for a wide replicate column, or None.

    Parameters
    ----------
    text : str
        The cell; case, blanks, hyphens and a unit in brackets do not matter.
    aliases : mapping of str to str
        The names that are understood.

    Returns
    -------
    str or None

    Examples
    --------
    >>> canonical_name("Log H (lux s)"), canonical_name("D2"), canonical_name("operator")
    ('log_exposure', 'density_2', None)
    """
    name = re.sub(r"[(\[].*?[)\]]", "", text).strip().lower()
    name = re.sub(r"[\s\-]+", "_", name)
    if name in aliases:
        return aliases[name]
    wide = _WIDE.fullmatch(name)
    return f"density_{int(wide.group(1))}" if wide else None


def known_names(texts: Sequence[str]) -> int:
    """How many of some header cells have a known meaning in the kind of table that they fit best.

    Parameters
    ----------
    texts : sequence of str

    Returns
    -------
    int

    Examples
    --------
    >>> known_names(["step", "density", "weather"])
    2
    """
    return max(sum(canonical_name(text, names) is not None for text in texts) for names in VOCABULARIES)


def find_columns(
    parsed: ParsedFile, *, require: Sequence[str], aliases: Mapping[str, str] = ALIASES
) -> tuple[Columns | None, int, list[Problem]]:
    """Find the header row and what its columns mean.

    Parameters
    ----------
    parsed : ParsedFile
    require : sequence of str
        The columns that are needed beside the density.
    aliases : mapping of str to str
        The names that are understood.

    Returns
    -------
    columns : Columns or None
        None when the readings cannot be taken from this table.
    start : int
        Index in ``parsed.rows`` of the first row below the header.
    problems : list of Problem
    """
    index = _header_index(parsed.rows, aliases)
    header = parsed.rows[index]
    body = parsed.rows[index + 1 :]
    if all(_NUMERIC.fullmatch(clean_number(cell.text)) for cell in header.cells if cell.text):
        wanted = ",".join([*require, "density"])
        advice = f"the table starts with numbers; put a line with the column names first: {wanted}"
        return None, index, [problem("HEADER_MISSING", advice, row=header.number)]
    names = [canonical_name(cell.text, aliases) for cell in header.cells]
    problems = _repeated(header, names) + _unnamed(header, body) + _missing(header, names, require)
    if problems:
        return None, index + 1, problems
    unknown = tuple(
        cell.text for cell, name in zip(header.cells, names, strict=True) if cell.text and name is None
    )
    places = {name: at for at, name in enumerate(names) if name and not name.startswith("density")}
    densities = tuple(
        (at, int(name.partition("_")[2]) if "_" in name else None)
        for at, name in enumerate(names)
        if name and name.startswith("density")
    )
    return Columns(header, places, densities, unknown), index + 1, []


def _header_index(rows: Sequence[Row], aliases: Mapping[str, str]) -> int:
    """The first row that names two known columns, a density among them; else the first row."""
    for index, row in enumerate(rows[:MAX_HEADER_DEPTH]):
        names = {canonical_name(cell.text, aliases) for cell in row.cells} - {None}
        if len(names) >= 2 and any(name.startswith("density") for name in names if name):
            return index
    return 0


def _repeated(header: Row, names: Sequence[str | None]) -> list[Problem]:
    problems = []
    for at, name in enumerate(names):
        if name and name in names[:at]:
            first = header.cells[names.index(name)].text
            second = header.cells[at].text
            advice = f"the columns “{shown(first)}” and “{shown(second)}” mean the same; keep one of them"
            problems.append(problem("DUPLICATE_COLUMN", advice, row=header.number, column=name, value=second))
    wide = any(name and name.startswith("density_") for name in names)
    if wide and ("density" in names or "replicate" in names):
        other = "density" if "density" in names else "replicate"
        advice = (
            f"numbered density columns and a column “{other}” exclude each other; give either density_1, "
            "density_2, … or one column density with a column replicate"
        )
        problems.append(problem("DUPLICATE_COLUMN", advice, row=header.number, column=other))
    return problems


def _unnamed(header: Row, body: Sequence[Row]) -> list[Problem]:
    """Columns inside the header that have no name although something stands below."""
    problems = []
    for at, cell in enumerate(header.cells):
        if cell.text:
            continue
        below = next((row for row in body if at < len(row.cells) and row.cells[at].text), None)
        if below is not None:
            advice = f"column {at + 1} has no name but holds values (first in row {below.number}); name it"
            value = below.cells[at].text
            problems.append(problem("UNNAMED_COLUMN", advice, row=header.number, value=value))
    return problems


def _missing(header: Row, names: Sequence[str | None], require: Sequence[str]) -> list[Problem]:
    wanted = [name for name in require if name not in names]
    if not any(name and name.startswith("density") for name in names):
        wanted.append("density")
    found = [cell.text for cell in header.cells if cell.text]
    spare = [cell.text for cell, name in zip(header.cells, names, strict=True) if cell.text and name is None]
    problems = []
    for name in wanted:
        near = get_close_matches(name, spare, n=1, cutoff=0.5)
        hint = f"rename “{shown(near[0])}” to {name}" if near else f"name one of them {name}, or add it"
        listed = shown(", ".join(found), limit=120)
        advice = f"there is no column {name}; the header has: {listed}; {hint}"
        problems.append(problem("MISSING_COLUMN", advice, row=header.number, column=name))
    return problems


def column_notes(columns: Columns, start: int) -> list[str]:
    """What a reader of the preview should know of how the columns were read.

    Parameters
    ----------
    columns : Columns
    start : int
        Index of the first row below the header.

    Returns
    -------
    list of str
    """
    notes = []
    if start > 1:
        notes.append(f"lines above the header in row {columns.header.number} passed over: {start - 1}")
    if columns.unknown:
        notes.append(f"columns not read: {shown(', '.join(columns.unknown), limit=120)}")
    if len(columns.densities) > 1:
        notes.append(f"{len(columns.densities)} density columns read as replicates")
    return notes
