"""Small workbooks for the import tests, good and bad."""

import io
import zipfile

import openpyxl

GOOD_ROWS = (
    ("step", "log_exposure", "density"),
    (1, -2.1, 0.31),
    (2, -1.95, 0.38),
    (3, -1.8, 0.46),
)


def workbook(rows=GOOD_ROWS, *, change=None):
    """Bytes of a workbook with one sheet; ``change(book, sheet)`` may alter it before it is saved."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Strip"
    for row in rows:
        sheet.append(row)
    if change:
        change(book, sheet)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def rewritten(data, part, edit):
    """The workbook with one part of its archive put through ``edit(bytes) -> bytes``."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for item in old.infolist():
            content = old.read(item.filename)
            new.writestr(item.filename, edit(content) if item.filename == part else content)
    return out.getvalue()


def archive(**parts):
    """A ZIP archive with the named parts (double underscores stand for slashes, single ones for points)."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name, content in parts.items():
            new.writestr(name.replace("__", "/").replace("_", "."), content)
    return out.getvalue()
