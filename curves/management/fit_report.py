"""A file of readings to a report with measures, curve and flags, without a site or a database."""

from __future__ import annotations

from pathlib import Path

from curves.figures import characteristic_figure, comparison_figure, line_style
from curves.importers import MAX_BYTES, ReadingsTable, parse_readings, read_table
from curves.sensitometry import Analysis, Comparison, Readings, analyse_readings

CONTRACT_MEASURES = (
    "base_plus_fog",
    "d_max",
    "speed_point_log_exposure",
    "delta_d_130",
    "iso_speed",
    "iso_speed_exact",
    "iso_degree",
    "delta_x_speed",
    "box_difference_stops",
    "average_gradient_150",
    "contrast_index",
    "gamma",
    "toe_length",
    "straight_part_start",
    "straight_part_end",
    "shoulder_onset",
    "useful_range",
    "highlight_gradient",
)
"""Measures that every report has, in this order; scripts rely on them. Others of the engine follow."""

CURVE_ARRAYS = ("log_exposure", "density", "low", "high", "gradient")

RELATIVE_NOTE = (
    "exposure is taken as relative: speeds are withheld, and a speed shift holds only if both files count "
    "from the same zero"
)


class BadFileError(Exception):
    """A file that cannot be used; the message is one sentence that says where, why and what would do."""


def read_readings_file(path: str) -> ReadingsTable:
    """Read and check a file of readings.

    Raises
    ------
    BadFileError
        When it cannot be opened or anything in it is wrong.
    """
    try:
        with Path(path).open("rb") as file:
            # One byte more than is allowed tells that the file is too large, whatever its size.
            data = file.read(MAX_BYTES + 1)
    except OSError as error:
        raise BadFileError(
            f"{path}: cannot be read ({error.strerror or error}); give a file of readings."
        ) from error
    table = parse_readings(read_table(data, filename=path), require="log_exposure")
    if not table.is_valid:
        raise BadFileError(problem_sentence(path, table))
    return table


def problem_sentence(path: str, table: ReadingsTable) -> str:
    """The first problem of a file as one sentence, with the number of the others."""
    first, *others = table.problems
    place = ", ".join(part for part in (path, first.place) if part)
    rest = ""
    if others:
        rows = sorted({other.row for other in others if other.row is not None})
        shown = ", ".join(map(str, rows[:8])) + (", …" if len(rows) > 8 else "")
        rest = f" ({len(others)} more problem{'s' if len(others) > 1 else ''} in row {shown})"
    return f"{place}: {first.message}{rest}."


def readings_of(table: ReadingsTable, *, exposure: str) -> Readings:
    """The engine's readings out of a table."""
    exposed = [row for row in table.rows if not row.is_unexposed]
    return Readings(
        log_exposure=[row.log_exposure for row in exposed],
        density=[row.density for row in exposed],
        unexposed=[row.density for row in table.rows if row.is_unexposed],
        step=[row.step or 0 for row in exposed],
        replicate=[row.replicate or 0 for row in exposed],
        exposure=exposure,
    )


def analyse_table(table: ReadingsTable, *, exposure: str, box_speed: float | None = None) -> Analysis:
    """What the engine makes of a table."""
    return analyse_readings(readings_of(table, exposure=exposure), box_speed=box_speed)


def fit_report(table: ReadingsTable, analysis: Analysis, comparison: Comparison | None = None) -> dict:
    """The report as plain JSON values, in a stable order of keys."""
    stored = analysis.to_dict()
    measures = stored["measures"]
    names = [*CONTRACT_MEASURES, *(name for name in measures if name not in CONTRACT_MEASURES)]
    report = {
        "file": table.filename,
        "engine_version": stored["engine_version"],
        "exposure": stored["exposure"],
        "box_speed": stored["box_speed"],
        "measures": {name: measures[name] for name in names},
        "curve": {name: stored["curve"][name] for name in CURVE_ARRAYS},
        "flags": [{"code": flag["code"], "text": flag["text"]} for flag in stored["flags"]],
        "notes": [*table.notes, *([RELATIVE_NOTE] if analysis.exposure == "relative" else [])],
    }
    if comparison is not None:
        compared = comparison.to_dict()
        report["comparison"] = {
            **compared["measures"],
            "difference": compared["difference"],
            "sentences": [sentence["text"] for sentence in compared["sentences"]],
        }
    return report


def fit_figure(analysis: Analysis, reference: Analysis | None = None) -> dict:
    """The curve with its constructions, or over the reference when there is one."""
    if reference is None:
        return characteristic_figure(analysis)
    return comparison_figure(("reference", reference), [("this film", analysis, line_style(0))], bands=True)
