"""A comparison's document as a file: CSV, JSON or a workbook. Of a frozen one the bytes never change."""

import io
import json
import zipfile
from datetime import datetime

from django.http import Http404, HttpResponse
from openpyxl import Workbook
from openpyxl.styles import Font

from curves.importers import escape_text
from curves.queries.comparison_document import document_csv, document_lines

WORKBOOK_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
#: A workbook states when it was made; the same table is to be the same bytes.
NO_TIME = datetime(2000, 1, 1)


def document_file(document: dict, kind: str, name: str, *, csv_text: str | None = None) -> HttpResponse:
    """Return the file of a kind; one with mixed standards says so in its name, too."""
    makers = {"csv": _csv, "json": _json, "xlsx": _workbook}
    if kind not in makers:
        raise Http404(kind)
    content, content_type = makers[kind](document, csv_text)
    answer = HttpResponse(content, content_type=content_type)
    name = f"{name}-mixed-standards" if document["is_mixed"] else name
    answer["Content-Disposition"] = f'attachment; filename="{name}.{kind}"'
    return answer


def _csv(document: dict, csv_text: str | None) -> tuple[bytes, str]:
    return (csv_text or document_csv(document)).encode(), "text/csv; charset=utf-8"


def _json(document: dict, csv_text) -> tuple[bytes, str]:
    return json.dumps(document, ensure_ascii=False, indent=1).encode(), "application/json"


def _workbook(document: dict, csv_text) -> tuple[bytes, str]:
    book = Workbook()
    sheet = book.active
    sheet.title = "Comparison"
    for line in document_lines(document):
        sheet.append([escape_text(cell) if isinstance(cell, str) else cell for cell in line])
    for cell in sheet[1]:
        cell.font = Font(bold=True)
    sheet.freeze_panes = "B2"
    about = book.create_sheet("About")
    about.append(["Standards", document["standards"]])
    about.append(["House reference", document["reference"] or "none"])
    about.append(["Mixed standards", "yes: see the column standards" if document["is_mixed"] else "no"])
    about.append(["Intervals", "95 %, reading error and the spread from roll to roll where it is known"])
    about.column_dimensions["A"].width, about.column_dimensions["B"].width = 20, 80
    return workbook_bytes(book), WORKBOOK_TYPE


def workbook_bytes(book: Workbook) -> bytes:
    """Return a workbook as a file; of the same cells the bytes are the same."""
    raw = io.BytesIO()
    book.properties.created = book.properties.modified = NO_TIME
    book.save(raw)
    return _without_times(raw.getvalue())


def _without_times(data: bytes) -> bytes:
    """The archive with the times of its members taken off."""
    clean = io.BytesIO()
    stamp = NO_TIME.strftime("%Y-%m-%dT%H:%M:%SZ").encode()
    with (
        zipfile.ZipFile(io.BytesIO(data)) as before,
        zipfile.ZipFile(clean, "w", zipfile.ZIP_DEFLATED) as after,
    ):
        for name in before.namelist():
            content = before.read(name)
            if name == "docProps/core.xml":
                content = _with_stamp(content, stamp)
            after.writestr(zipfile.ZipInfo(name, NO_TIME.timetuple()[:6]), content, zipfile.ZIP_DEFLATED)
    return clean.getvalue()


def _with_stamp(content: bytes, stamp: bytes) -> bytes:
    """The properties of the workbook, whose writer sets the time of saving by itself."""
    head, mark, rest = content.partition(b"<dcterms:modified")
    if not mark:
        return content
    opening, _, tail = rest.partition(b">")
    return head + mark + opening + b">" + stamp + tail[tail.index(b"</dcterms:modified>") :]
