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


def archive(parts):
    """A ZIP archive of the named parts."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name, content in parts.items():
            new.writestr(name, content)
    return out.getvalue()


_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_DOCUMENT = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_PACKAGE = "http://schemas.openxmlformats.org/package/2006"
_SHEET = "application/vnd.openxmlformats-officedocument.spreadsheetml."
_RELATIONS = "application/vnd.openxmlformats-package.relationships+xml"


def spreadsheet_program_workbook():
    """A workbook as spreadsheet programs write it, by hand after ECMA-376: shared strings, one of them in
    two fonts, a false dimension, and a formatted empty cell beside the table."""
    types = {
        "/xl/workbook.xml": f"{_SHEET}sheet.main+xml",
        "/xl/worksheets/sheet1.xml": f"{_SHEET}worksheet+xml",
        "/xl/sharedStrings.xml": f"{_SHEET}sharedStrings+xml",
    }
    overrides = "".join(f'<Override PartName="{name}" ContentType="{kind}"/>' for name, kind in types.items())
    rows = (
        '<row r="1"><c r="A1" t="s"><v>0</v></c><c r="B1" t="s"><v>1</v></c></row>'
        '<row r="2"><c r="A2"><v>-2.1</v></c><c r="B2"><v>0.31000000000000005</v></c><c r="H2" s="0"/></row>'
        '<row r="3"><c r="A3"><v>-1.95</v></c><c r="B3"><v>0.38</v></c></row>'
    )
    return archive(
        {
            "[Content_Types].xml": f'<Types xmlns="{_PACKAGE}/content-types">'
            f'<Default Extension="rels" ContentType="{_RELATIONS}"/>'
            f"{overrides}</Types>",
            "_rels/.rels": f'<Relationships xmlns="{_PACKAGE}/relationships"><Relationship Id="r1" '
            f'Type="{_DOCUMENT}/officeDocument" Target="xl/workbook.xml"/></Relationships>',
            "xl/workbook.xml": f'<workbook xmlns="{_MAIN}" xmlns:r="{_DOCUMENT}"><sheets>'
            '<sheet name="Strip" sheetId="1" r:id="r1"/></sheets></workbook>',
            "xl/_rels/workbook.xml.rels": f'<Relationships xmlns="{_PACKAGE}/relationships">'
            f'<Relationship Id="r1" Type="{_DOCUMENT}/worksheet" Target="worksheets/sheet1.xml"/>'
            f'<Relationship Id="r2" Type="{_DOCUMENT}/sharedStrings" Target="sharedStrings.xml"/>'
            "</Relationships>",
            "xl/sharedStrings.xml": f'<sst xmlns="{_MAIN}"><si><t>log_exposure</t></si>'
            "<si><r><t>den</t></r><r><t>sity</t></r></si></sst>",
            "xl/worksheets/sheet1.xml": f'<worksheet xmlns="{_MAIN}"><dimension ref="A1:XFD1048576"/>'
            f"<sheetData>{rows}</sheetData></worksheet>",
        }
    )
