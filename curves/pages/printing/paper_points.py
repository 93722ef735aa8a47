"""The points of a paper's curve as they are typed, pasted or taken from a file."""

import re

from django import forms

from curves.importers import parse_readings, read_table
from curves.importers.numbers import comma_is_decimal, parse_number

_BREAKS = re.compile(r"[\t; ]+|,\s+")
MOST_LINES = 200

Points = list[list[float]]


class PaperPointsField(forms.CharField):
    """A point a line: log exposure, then density."""

    widget = forms.Textarea(attrs={"rows": 14, "spellcheck": "false", "autocomplete": "off"})

    def to_python(self, value):
        """Return the points, or every fault with its line."""
        points, faults = read_points(super().to_python(value) or "")
        if faults:
            raise forms.ValidationError(faults)
        return points

    def prepare_value(self, value):
        """Show points a line each."""
        return points_text(value) if isinstance(value, list) else value


def points_text(points: Points) -> str:
    """Return points as the field shows them."""
    return "\n".join(f"{x:.10g}\t{density:.10g}" for x, density in points)


def read_points(text: str) -> tuple[Points, list[str]]:
    """Return the points in the order they were written, and what is wrong with the text."""
    lines = [
        (number, cells)
        for number, line in enumerate(text.splitlines()[:MOST_LINES], start=1)
        if (cells := _cells(line))
    ]
    if lines and not any(character.isdigit() for cell in lines[0][1] for character in cell):
        lines = lines[1:]  # column names
    comma_is_sure = comma_is_decimal(cell for _, cells in lines for cell in cells)
    points: Points = []
    faults: list[str] = []
    for number, cells in lines:
        point, fault = _point(cells, comma_is_sure)
        if fault:
            faults.append(f"Line {number}: {fault}.")
        else:
            points.append(point)
    return points, faults


def read_point_file(data: bytes, filename: str) -> tuple[Points, list[str]]:
    """Return the points of a file with the columns log_exposure and density, and what is wrong with it."""
    table = parse_readings(read_table(data, filename=filename), require="log_exposure")
    faults = [f"{filename}: {problem}." for problem in table.problems]
    if not faults and any(row.is_unexposed for row in table.rows):
        faults.append(f"{filename}: leave unexposed paper out; its density has a field of its own.")
    if faults:
        return [], faults
    return [[row.log_exposure, row.density] for row in table.rows], []


def _cells(line: str) -> list[str]:
    line = line.strip()
    # "0.3,0.52" is a comma between two numbers that have points of their own.
    if line.count(",") == 1 and line.count(".") == 2:
        line = line.replace(",", " ")
    return [cell for cell in _BREAKS.split(line) if cell]


def _point(cells: list[str], comma_is_sure: bool) -> tuple[list[float], str]:
    if len(cells) != 2:
        return [], "write one point a line: its log exposure and its density"
    numbers = []
    for cell in cells:
        value, _, advice = parse_number(cell, comma="decimal", comma_is_sure=comma_is_sure)
        if value is None:
            return [], advice
        numbers.append(value)
    return numbers, ""
