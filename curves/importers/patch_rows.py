"""One row of cells to the readings of a patch, each cell checked against what its column can hold."""

from __future__ import annotations

import re
from collections.abc import Sequence

from curves.importers.cells import CellReader
from curves.importers.export import unescape_text
from curves.importers.header import Columns
from curves.importers.problems import Problem, problem, shown
from curves.importers.tables import ParsedFile, PatchRow, Row

OFFSET_RANGE = (-8.0, 8.0)
"""Exposure of a bracket's frame [stop]; beyond it a sign or a digit was lost (house choice)."""

INDEX_RANGE = (0.5, 102_400.0)
"""What a meter can be set to, with room on both sides (house choice)."""

LONGEST = {"frame": 20, "patch": 40, "filter": 60}

LIGHTS = ("daylight", "tungsten")

UNITS: dict[str, tuple[frozenset[str], str]] = {
    "density": (frozenset({"", "d"}), "densities are read as they are, without a unit or in D"),
    "offset_stops": (
        frozenset({"", "stop", "stops", "ev"}),
        "the exposure of a frame is read in stops",
    ),
}
"""Units that may stand in brackets behind a column's name, and what to say of another one."""

_NO_FILTER = frozenset({"none", "no", "without", "-", "–"})
_UNIT = re.compile(r"[(\[](.*?)[)\]]")


def wrong_units(header: Row, columns: Columns) -> list[Problem]:
    """Columns whose name states another unit than their numbers are taken in.

    Parameters
    ----------
    header : Row
    columns : Columns

    Returns
    -------
    list of Problem
    """
    named = [(name, at) for name, at in columns.places.items() if name in UNITS]
    named += [("density", at) for at, _ in columns.densities]
    problems = []
    for name, at in named:
        text = header.cells[at].text
        found = _UNIT.search(text)
        accepted, rule = UNITS[name]
        if found and found.group(1).strip().lower() not in accepted:
            advice = f"the column is in {shown(found.group(1), limit=12)}; {rule}: convert it and rename it"
            problems.append(problem("WRONG_UNIT", advice, row=header.number, column=name, value=text))
    return problems


class PatchReader(CellReader):
    """Reads the rows of a table of patches and gathers what is wrong with their cells."""

    def __init__(self, parsed: ParsedFile, columns: Columns, body: Sequence[Row]) -> None:
        super().__init__(parsed, columns, body, ("offset_stops", "metered_index"))
        self.unread: list[int] = []

    def readings(self, row: Row) -> list[PatchRow]:
        """The readings of one row; none if one is bad, and none if it is still to be filled in."""
        before = len(self.problems)
        self._check_width(row)
        if not self._is_read(row):
            self.unread.append(row.number)
            return []
        frame, patch = self._name(row, "frame"), self._name(row, "patch")
        offset = self._optional(row, "offset_stops", OFFSET_RANGE, "check the sign and the decimal mark")
        index = self._optional(row, "metered_index", INDEX_RANGE, "give the index set on the meter, as 100")
        filter_name, light = self._filter(row), self._light(row)
        densities = self._densities(row, self._replicate(row))
        if len(self.problems) > before:
            return []
        remark = unescape_text(self._text(row, "remark"))
        return [
            PatchRow(row.number, frame, patch, density, number, offset, index, filter_name, light, remark)
            for density, number in densities
        ]

    def _words(self, row: Row, name: str) -> str:
        """The text of a cell that may hold any words, or nothing after refusing it."""
        at = self._columns.places.get(name)
        if at is None or at >= len(row.cells) or self._is_faulty(row, name, at):
            return ""
        text = unescape_text(row.cells[at].text)
        longest = LONGEST.get(name)
        if longest and len(text) > longest:
            advice = f"this has {len(text)} characters; at most {longest} are kept, so shorten it"
            self._refuse("TOO_LONG", row, name, text, advice)
        return text

    def _name(self, row: Row, name: str) -> str:
        before = len(self.problems)
        text = self._words(row, name)
        if not text and len(self.problems) == before:
            self._refuse(
                "EMPTY_CELL", row, name, "", f"the name of the {name} is missing; give it in every row"
            )
        return text

    def _optional(self, row: Row, name: str, limits: tuple[float, float], hint: str) -> float | None:
        if not self._text(row, name):
            return None
        return self._number(row, name, self._columns.places[name], limits, hint)

    def _filter(self, row: Row) -> str | None:
        if "filter" not in self._columns.places:
            return None
        text = self._words(row, "filter")
        return "" if text.lower() in _NO_FILTER else text

    def _light(self, row: Row) -> str:
        text = self._words(row, "light")
        if text and text.lower() not in LIGHTS:
            advice = f"“{shown(text)}” is no light that series are kept by; write daylight or tungsten"
            self._refuse("NOT_A_LIGHT", row, "light", text, advice)
        return text.lower()

    def channel(self, row: Row) -> str:
        """The channel of a row as its cell names it."""
        return self._text(row, "channel").lower()
