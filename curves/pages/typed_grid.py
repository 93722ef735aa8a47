"""What was typed into the readings grid: every cell read as a number or refused with a reason."""

import re
from dataclasses import dataclass

from curves.importers.numbers import clean_number, comma_is_decimal, parse_number
from curves.models import UNEXPOSED_STEP
from curves.queries.readings import GridRow, ReadingGrid
from curves.services.readings import MOST_REPLICATES, ReadingValue, cell_name, density_fault

CELL = re.compile(r"d-(unexposed|[1-9]\d{0,2})-([1-9]\d?)", re.ASCII)


@dataclass(frozen=True)
class TypedGrid:
    """The texts as they were typed, the numbers they make, and what is wrong with the others."""

    texts: dict[str, str]
    values: tuple[ReadingValue, ...]
    errors: dict[str, str]

    @property
    def replicate_count(self) -> int:
        """The number of columns that were typed into."""
        return max((int(name.rpartition("-")[2]) for name in self.texts), default=0)


def typed_grid(data) -> TypedGrid:
    """Read the posted cells; decimal point or comma, never a guess at "1,234"."""
    texts = {name: data[name] for name in data if CELL.fullmatch(name)}
    comma_is_sure = comma_is_decimal(texts.values())
    values, errors = [], {}
    for name, text in texts.items():
        density, error = _density(text, comma_is_sure)
        if error:
            errors[name] = error
        else:
            step, replicate = CELL.fullmatch(name).groups()
            number = UNEXPOSED_STEP if step == "unexposed" else int(step)
            values.append(ReadingValue(number, int(replicate), density))
    return TypedGrid(texts, tuple(values), errors)


def _density(text: str, comma_is_sure: bool) -> tuple[float | None, str]:
    if not clean_number(text):
        return None, ""
    density, _, advice = parse_number(text, comma="decimal", comma_is_sure=comma_is_sure)
    return density, advice or density_fault(density)


def grid_cells(grid: ReadingGrid, typed: TypedGrid | None, *, more: int = 0) -> list[dict]:
    """Return the rows of the grid for its template: what was typed stands before what is stored."""
    count = max(grid.replicate_count, typed.replicate_count if typed else 0)
    count = min(count + more, MOST_REPLICATES)
    return [{"row": row, "cells": _cells(row, typed, count)} for row in grid.rows]


def _cells(row: GridRow, typed: TypedGrid | None, count: int) -> list[dict]:
    cells = []
    for replicate in range(1, count + 1):
        stored = row.densities[replicate - 1] if replicate <= len(row.densities) else None
        name = cell_name(ReadingValue(row.step, replicate, None))
        shown = density_text(stored)
        cells.append(
            {
                "name": name,
                "saved": shown,
                "value": typed.texts.get(name, shown) if typed else shown,
                "error": typed.errors.get(name, "") if typed else "",
            }
        )
    return cells


def density_text(density: float | None) -> str:
    """Return a density with at least two decimals and all that were read."""
    if density is None:
        return ""
    return f"{density:.2f}" if round(density, 2) == density else f"{density:.10g}"
