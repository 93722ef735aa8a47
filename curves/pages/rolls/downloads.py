"""A roll's readings and results as files. The readings file is one that the importer takes back."""

import csv

from django.http import HttpResponse, JsonResponse
from django.views.decorators.http import require_safe

from curves.importers import escape_text, write_readings_csv
from curves.models import Roll
from curves.pages.access import members_only, readers_only
from curves.pages.listing import csv_file
from curves.queries.readings import reading_grid, reading_rows
from curves.queries.rolls import visible_roll
from curves.sensitometry import MEASURES
from labsite.common.errors import NotFound

CURVE_COLUMNS = ("log_exposure", "density", "low", "high", "gradient")


@require_safe
@members_only
def readings_csv(request, roll_id: int, strip_number: int):
    """The standing readings of one strip."""
    grid = reading_grid(request.user, roll_id, strip_number)
    roll = grid.roll
    unit = "log10 lx s" if grid.is_absolute else "log10, relative to the tablet's clear area"
    comments = [
        f"{roll.code}, strip {strip_number}: {roll.batch.stock}, {roll.batch}",
        f"exposed under {roll.exposure_revision}, developed under {roll.process_revision}",
        f"log_exposure: {unit}; density: gross",
    ]
    text = write_readings_csv(reading_rows(grid), comments=comments)
    return _attached(text, f"{roll.code}-strip-{strip_number}-readings.csv", "text/csv; charset=utf-8")


@require_safe
@readers_only
def result_json(request, roll_id: int):
    """The result with its provenance, as the engine made it."""
    roll, analysis = _with_result(request, roll_id)
    document = {
        "roll": roll.code,
        "state": roll.state,
        "stock": {"name": roll.batch.stock.name, "maker": roll.batch.stock.maker},
        "batch": roll.batch.emulsion_number,
        "process_standard": str(roll.process_revision),
        "exposure_standard": str(roll.exposure_revision),
        "run_control_state": roll.run.control_state if roll.run else None,
        "control_override_reason": roll.control_override_reason,
        "hold_reason": roll.hold_reason,
        "hold_override_reason": roll.hold_override_reason,
        "input_digest": analysis.input_digest,
        "computed_at": analysis.created_at.isoformat(),
        **analysis.as_dict(),
    }
    answer = JsonResponse(document, json_dumps_params={"indent": 1, "ensure_ascii": False})
    answer["Content-Disposition"] = f'attachment; filename="{roll.code}-result.json"'
    return answer


@require_safe
@readers_only
def measures_csv(request, roll_id: int):
    """Every measure with its interval, unit and, where it is withheld, the reason."""
    roll, analysis = _with_result(request, roll_id)
    columns = [("measure", lambda row: row[0]), ("title", lambda row: _title(row[0]))]
    columns += [(name, _part(name)) for name in ("value", "low", "high", "unit", "reason", "note")]
    columns.append(("in_by_override", lambda row: "; ".join(roll.override_reasons)))
    return csv_file(f"{roll.code}-measures.csv", analysis.measures.items(), columns)


@require_safe
@readers_only
def curve_csv(request, roll_id: int):
    """The fitted curve with its band and gradient, over the measured range only."""
    roll, analysis = _with_result(request, roll_id)
    curve = analysis.detail["curve"]
    answer = _attached("", f"{roll.code}-curve.csv", "text/csv; charset=utf-8")
    writer = csv.writer(answer)
    override = escape_text("; ".join(roll.override_reasons))
    writer.writerow((*CURVE_COLUMNS, "in_by_override"))
    rows = zip(*(curve[name] for name in CURVE_COLUMNS), strict=True)
    writer.writerows((*row, override) for row in rows)
    return answer


def _with_result(request, roll_id: int):
    roll: Roll = visible_roll(request.user, roll_id)
    if roll.current_analysis is None:
        raise NotFound(f"{roll.code} has no result yet.")
    return roll, roll.current_analysis


def _title(name: str) -> str:
    return MEASURES[name].title if name in MEASURES else name


def _part(name: str):
    return lambda row: row[1].get(name)


def _attached(text: str, filename: str, kind: str) -> HttpResponse:
    answer = HttpResponse(text, content_type=kind)
    answer["Content-Disposition"] = f'attachment; filename="{filename}"'
    return answer
