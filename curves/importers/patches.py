"""Rows of cells to the densities of a target's patches: all that is wrong is told at once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from curves.importers.header import PATCH_ALIASES, Columns, column_notes, find_columns
from curves.importers.patch_rows import PatchReader, wrong_units
from curves.importers.problems import Problem, problem, shown
from curves.importers.tables import ParsedFile, PatchRow, PatchTable, Row

CHANNELS: dict[str, str] = {
    "visual": "visual",
    "vis": "visual",
    "v": "visual",
    "blue": "blue",
    "b": "blue",
    "printing_1": "printing_1",
    "printing, type 1": "printing_1",
    "printing_2": "printing_2",
    "printing, type 2": "printing_2",
}
"""Words for the channels of a densitometer, and the kind of density that each is; others are kept as
they are, such as red and green, with which no film of this lab is read."""

FACTS = ("offset_stops", "metered_index", "filter_name")
"""What a frame has once, however many patches were read on it."""


def parse_patches(parsed: ParsedFile, *, channel: str = "") -> PatchTable:
    """Give meaning to the cells of a file of patch densities.

    Parameters
    ----------
    parsed : ParsedFile
        What `read_table` returned.
    channel : str
        Kind of density that is wanted where the file has a column of channels, such as ``visual``;
        empty: the one that the file has.

    Returns
    -------
    PatchTable

    Examples
    --------
    >>> from curves.importers import read_table
    >>> table = parse_patches(read_table(b"frame;patch;density\\n3;Blue;0,71\\n3;Red;o,5\\n"))
    >>> [str(problem) for problem in table.problems]
    ['row 3, column density: “o,5” is not a number; write digits only, such as 0.53']
    """
    problems, notes = list(parsed.problems), list(parsed.notes)
    rows: list[PatchRow] = []
    if parsed.rows and not problems:
        columns, start, problems = find_columns(parsed, require=["frame", "patch"], aliases=PATCH_ALIASES)
        if columns is not None:
            notes += column_notes(columns, start)
            problems = wrong_units(columns.header, columns)
            rows, found, remarks = _body(parsed, columns, parsed.rows[start:], channel)
            problems, notes = problems + found, notes + remarks
    elif not problems:
        advice = "the file holds nothing but comments; give a table of patches"
        problems.append(problem("EMPTY_FILE", advice))
    problems.sort(key=lambda found: found.row or 0)
    return PatchTable(parsed.filename, parsed.kind, tuple(rows), tuple(problems), tuple(notes))


def _body(
    parsed: ParsedFile, columns: Columns, body: Sequence[Row], channel: str
) -> tuple[list[PatchRow], list[Problem], list[str]]:
    reader = PatchReader(parsed, columns, body)
    kept, problems, notes = _of_channel(reader, columns, body, channel)
    rows = [reading for row in kept for reading in reader.readings(row)]
    problems += reader.problems
    if reader.unread:
        count = len(reader.unread)
        which = f"row {reader.unread[0]}" if count == 1 else f"{count} rows, the first is {reader.unread[0]}"
        notes.append(f"without a density and passed over: {which}")
    if not problems:
        rows, remarks = _numbered(rows)
        notes += remarks
    problems += _duplicates(rows, is_complete=not problems) + _conflicts(rows)
    if not problems and not rows:
        advice = "no row below the header has a density; give one row a patch and frame"
        problems = [problem("NO_ROWS", advice, row=columns.header.number)]
    elif not problems and len(rows) > 2 and all(row.density == int(row.density) for row in rows):
        advice = "every density is a whole number, so the decimal mark seems to be lost; write 0.53, not 53"
        problems = [problem("WHOLE_DENSITIES", advice, row=columns.header.number, column="density")]
    return rows, problems, notes


def _of_channel(
    reader: PatchReader, columns: Columns, body: Sequence[Row], wanted: str
) -> tuple[Sequence[Row], list[Problem], list[str]]:
    """The rows of the wanted channel, since one curve holds one kind of density."""
    if "channel" not in columns.places:
        return body, [], []
    channels = {row.number: CHANNELS.get(name := reader.channel(row), name) for row in body}
    counts = Counter(found for found in channels.values() if found)
    if not wanted and len(counts) < 2:
        return body, [], []
    listed = shown(", ".join(counts), limit=80)
    place = {"row": columns.header.number, "column": "channel", "value": listed}
    if not wanted:
        advice = f"densities of several channels are here ({listed}); choose the instrument that tells which"
        return [], [problem("SEVERAL_CHANNELS", advice, **place)], []
    if counts and wanted not in counts:
        advice = (
            f"the densities are of another channel ({listed}) than the roll's strips ({wanted}); one curve "
            "can't mix them: read the patches as the strips were, or choose the instrument that read these"
        )
        return [], [problem("OTHER_CHANNEL", advice, **place)], []
    others = sum(count for name, count in counts.items() if name != wanted)
    notes = [f"rows of other channels than {wanted} passed over: {others}"] if others else []
    return [row for row in body if channels[row.number] in ("", wanted)], [], notes


def _key(row: PatchRow) -> tuple[str, str]:
    return row.frame.casefold(), row.patch.casefold()


def _numbered(rows: list[PatchRow]) -> tuple[list[PatchRow], list[str]]:
    """Number unnumbered repeats where they can only be repeats: every patch read equally often."""
    counts = Counter(_key(row) for row in rows)
    often = set(counts.values())
    if any(row.replicate is not None for row in rows) or len(often) != 1 or often == {1}:
        return rows, []
    seen: Counter = Counter()
    numbered = []
    for row in rows:
        seen[_key(row)] += 1
        numbered.append(replace(row, replicate=seen[_key(row)]))
    return numbered, [f"every patch stands {often.pop()} times on each frame: read as repeats"]


def _duplicates(rows: Sequence[PatchRow], *, is_complete: bool) -> list[Problem]:
    first: dict[tuple, PatchRow] = {}
    problems = []
    for row in rows:
        if row.replicate is None and not is_complete:
            continue  # perhaps a repeat that only a table without faults gets its number
        earlier = first.setdefault((*_key(row), row.replicate), row)
        if earlier is row:
            continue
        again = "" if row.replicate is None else f" with repeat {row.replicate}"
        advice = (
            f"{shown(row.patch)} on frame {shown(row.frame)}{again} stands in row {earlier.row} already; "
            "number repeated readings 1, 2, 3, … in a column repeat, or take one out"
        )
        problems.append(problem("DUPLICATE_READING", advice, row=row.row, column="patch", value=row.patch))
    return problems


def _conflicts(rows: Sequence[PatchRow]) -> list[Problem]:
    """Frames of which two rows say different things."""
    told: dict[tuple[str, str], PatchRow] = {}
    problems = []
    for row in rows:
        for name in FACTS:
            value = getattr(row, name)
            if value in (None, ""):
                continue
            earlier = told.setdefault((row.frame.casefold(), name), row)
            before = getattr(earlier, name)
            if before != value:
                column = name.removesuffix("_name")
                advice = (
                    f"frame {shown(row.frame)} has {_said(value)} here and {_said(before)} in row "
                    f"{earlier.row}; a frame was taken in one way, so mend one of the two"
                )
                problems.append(
                    problem("CONFLICTING_FRAME", advice, row=row.row, column=column, value=_said(value))
                )
    return problems


def _said(value: float | str) -> str:
    return shown(value) if isinstance(value, str) else f"{value:g}".replace("-", "−")
