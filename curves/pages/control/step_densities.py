"""The densities of a tablet's steps as they are typed, pasted or taken from a file."""

import re

from django import forms

from curves.importers import parse_readings, read_table
from curves.importers.numbers import comma_is_decimal, parse_number

_BREAKS = re.compile(r"[\t; ]+")
MOST_LINES = 400


class StepDensitiesField(forms.CharField):
    """One step a line: the density, or the step's number and its density; or all densities in one line."""

    widget = forms.Textarea(attrs={"rows": 12, "spellcheck": "false", "autocomplete": "off"})

    def to_python(self, value):
        """Return the densities by step, or every fault with its line."""
        text = super().to_python(value)
        densities, faults = read_densities(text or "")
        if faults:
            raise forms.ValidationError(faults)
        return densities

    def prepare_value(self, value):
        """Show densities as step and density, a line each."""
        return densities_text(value) if isinstance(value, list) else value


def densities_text(densities: list[float]) -> str:
    """Return densities as the field shows them."""
    return "\n".join(f"{step}\t{density:.10g}" for step, density in enumerate(densities, start=1))


def read_densities(text: str) -> tuple[list[float], list[str]]:
    """Return the densities in the order of their steps, and what is wrong with the text."""
    lines = [
        (number, cells)
        for number, line in enumerate(text.splitlines()[:MOST_LINES], start=1)
        if (cells := [cell for cell in (part.rstrip(",") for part in _BREAKS.split(line.strip())) if cell])
    ]
    if lines and not any(character.isdigit() for cell in lines[0][1] for character in cell):
        lines = lines[1:]  # column names
    if len(lines) == 1 and len(lines[0][1]) > 2:
        lines = [(lines[0][0], [cell]) for cell in lines[0][1]]
    is_comma_sure = comma_is_decimal(cells[-1] for _, cells in lines)
    densities: list[float] = []
    faults: list[str] = []
    for expected, (number, cells) in enumerate(lines, start=1):
        density, fault = _density_of(cells, expected, is_comma_sure)
        if fault:
            faults.append(f"Line {number}: {fault}.")
        else:
            densities.append(density)
    return densities, faults


def read_density_file(data: bytes, filename: str) -> tuple[list[float], list[str]]:
    """Return the densities of a file with the columns step and density, and what is wrong with it."""
    table = parse_readings(read_table(data, filename=filename), require="step")
    faults = [f"{filename}: {problem}." for problem in table.problems]
    steps = [row.step for row in table.rows]
    if not faults and any(row.is_unexposed or row.replicate not in (None, 1) for row in table.rows):
        faults.append(f"{filename}: a calibration has one density a step; leave replicates and others out.")
    if not faults and sorted(steps) != list(range(1, len(steps) + 1)):
        faults.append(f"{filename}: steps count from 1 without a gap; the file has {_listed(steps)}.")
    if faults:
        return [], faults
    return [row.density for row in sorted(table.rows, key=lambda row: row.step)], []


def _density_of(cells: list[str], expected: int, is_comma_sure: bool) -> tuple[float, str]:
    if len(cells) > 2:
        return 0.0, "write one step a line: its density, or its number and its density"
    if len(cells) == 2 and cells[0].rstrip(".:") != str(expected):
        return 0.0, f"step {expected} belongs here, not “{cells[0][:12]}”"
    value, _, advice = parse_number(cells[-1], comma="decimal", comma_is_sure=is_comma_sure)
    return (0.0, advice) if value is None else (value, "")


def _listed(steps: list[int]) -> str:
    return ", ".join(map(str, steps[:12])) + (", …" if len(steps) > 12 else "")
