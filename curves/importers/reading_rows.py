"""One row of cells to the readings of a step, each cell checked against what its column can hold."""

from __future__ import annotations

from curves.importers.cells import CellReader
from curves.importers.export import unescape_text
from curves.importers.header import Columns
from curves.importers.problems import shown
from curves.importers.tables import ParsedFile, ReadingRow, Row

LOG_EXPOSURE_RANGE = (-10.0, 10.0)
"""Plausible log exposures [log10 lx s]: ten decades to either side of 1 lx s."""

STEP_RANGE = (0, 999)

_YES = frozenset({"1", "true", "yes"})
_NO = frozenset({"", "0", "false", "no"})


class RowReader(CellReader):
    """Reads the rows of one table and gathers what is wrong with their cells."""

    def __init__(self, parsed: ParsedFile, columns: Columns, body: tuple[Row, ...], require: str) -> None:
        super().__init__(parsed, columns, body, ("log_exposure", "step"))
        self._require = require

    def readings(self, row: Row) -> list[ReadingRow]:
        """The readings of one row: one, or one for each filled density column; none if one is bad."""
        before = len(self.problems)
        self._check_width(row)
        is_unexposed = self._mark(row)
        log_exposure = self._log_exposure(row, is_unexposed)
        step = self._whole(row, "step", STEP_RANGE, "number them as on the tablet")
        if self._require == "step" and step is None and not is_unexposed and not self._text(row, "step"):
            self._refuse(
                "EMPTY_CELL",
                row,
                "step",
                "",
                "the number of the step is missing; give it, or mark the "
                "reading by 1 in the column unexposed if it is base plus fog",
            )
        replicate = self._replicate(row)
        if not self._is_read(row):
            self._refuse(
                "EMPTY_CELL", row, "density", "", "the density is missing; give it, or take the row out"
            )
        densities = self._densities(row, replicate)
        if len(self.problems) > before:
            return []
        remark = unescape_text(self._text(row, "remark"))
        return [
            ReadingRow(row.number, density, log_exposure, step, number, is_unexposed, remark)
            for density, number in densities
        ]

    def _mark(self, row: Row) -> bool:
        """Whether the row is marked as unexposed area."""
        at = self._columns.places.get("unexposed")
        if at is None or at >= len(row.cells) or self._is_faulty(row, "unexposed", at):
            return False
        text = row.cells[at].text.lower()
        if text not in _YES | _NO:
            advice = f"“{shown(text)}” is no mark; write 1 for base plus fog and leave the others empty"
            self._refuse("NOT_A_MARK", row, "unexposed", text, advice)
        return text in _YES

    def _log_exposure(self, row: Row, is_unexposed: bool) -> float | None:
        name = "log_exposure"
        text = self._text(row, name)
        if is_unexposed and text:
            advice = "base plus fog has had no exposure; empty this cell, or the mark in the column unexposed"
            self._refuse("UNEXPOSED_WITH_EXPOSURE", row, name, text, advice)
        elif text:
            hint = "give log10 of the exposure in lux seconds, or relative to any step"
            return self._number(row, name, self._columns.places[name], LOG_EXPOSURE_RANGE, hint)
        elif not is_unexposed and self._require == name:
            advice = "the log exposure is missing; give it, or write 1 under unexposed for base plus fog"
            self._refuse("EMPTY_CELL", row, name, "", advice)
        return None
