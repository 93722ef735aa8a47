"""A published sheet as files: its figure, its small picture, and its numbers as CSV, JSON and a workbook."""

import json

from django.http import Http404, HttpResponse
from django.views.decorators.http import require_safe
from openpyxl import Workbook
from openpyxl.styles import Font

from curves.figures.svg import figure_svg
from curves.models import SheetVersion
from curves.pages.access import readers_only
from curves.pages.compare.files import WORKBOOK_TYPE, workbook_bytes
from curves.pages.stocks.published import permalink_of
from curves.pages.stocks.published_rows import drawn_sheet
from curves.queries.sheet_tables import COLUMNS, safe_cell, sheet_csv, sheet_document, sheet_tables
from curves.queries.sheets import sheet_credits, version_of
from labsite.common.errors import NotFound

FIGURE_SIZE = {"width": 720.0, "height": 400.0}
WIDTHS = {"item": 38, "value": 22, "note": 60}


@require_safe
@readers_only
def figure(request, stock_id: int, pair_key: str, number: int):
    """Send the figure as SVG in the colours of paper; a browser makes a PNG of it."""
    shown = version_of(request.user, stock_id, pair_key, number)
    return _file(figure_svg(drawn_sheet(shown.content), **FIGURE_SIZE), "image/svg+xml", shown, "svg")


@require_safe
@readers_only
def picture(request, stock_id: int, pair_key: str, number: int):
    """Send the small picture of an edge, as it was when the version was published."""
    shown = version_of(request.user, stock_id, pair_key, number)
    if shown.picture is None:
        raise NotFound("There is no picture on this sheet.")
    answer = HttpResponse(bytes(shown.picture.png), content_type="image/png")
    answer["Cache-Control"] = "private, max-age=86400"
    return answer


@require_safe
@readers_only
def data(request, stock_id: int, pair_key: str, number: int, file_kind: str):
    """Send everything that the version shows."""
    makers = {"csv": _csv, "json": _json, "xlsx": _workbook}
    if file_kind not in makers:
        raise Http404(file_kind)
    shown = version_of(request.user, stock_id, pair_key, number)
    content, content_type = makers[file_kind](shown, sheet_credits(shown), permalink_of(request, shown))
    return _file(content, content_type, shown, file_kind)


def _file(content: str | bytes, content_type: str, shown: SheetVersion, kind: str) -> HttpResponse:
    answer = HttpResponse(content, content_type=content_type)
    name = f"sheet-{shown.stock_id}-{shown.pair_key}-version-{shown.number}.{kind}"
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer


def _csv(shown: SheetVersion, credits: dict, permalink: str) -> tuple[str, str]:
    return sheet_csv(sheet_tables(shown, credits, permalink)), "text/csv; charset=utf-8"


def _json(shown: SheetVersion, credits: dict, permalink: str) -> tuple[str, str]:
    document = sheet_document(shown, credits, permalink)
    return json.dumps(document, ensure_ascii=False, indent=1, sort_keys=True), "application/json"


def _workbook(shown: SheetVersion, credits: dict, permalink: str) -> tuple[bytes, str]:
    book = Workbook()
    book.remove(book.active)
    for table in sheet_tables(shown, credits, permalink):
        used = [at for at in range(len(COLUMNS)) if any(line[at] != "" for line in table.lines)]
        page = book.create_sheet(table.name.capitalize())
        page.append([COLUMNS[at] for at in used])
        for line in table.lines:
            page.append([safe_cell(line[at]) for at in used])
        for place, at in enumerate(used):
            head = page.cell(row=1, column=place + 1)
            head.font = Font(bold=True)
            page.column_dimensions[head.column_letter].width = WIDTHS.get(COLUMNS[at], 14)
        page.freeze_panes = "B2"
    return workbook_bytes(book), WORKBOOK_TYPE
