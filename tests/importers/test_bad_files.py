"""Every kind of bad file is refused with the place, the reason and what would be accepted.

The expected row numbers count the lines of the text, or the rows of the sheet, from 1.
"""

import datetime

import openpyxl
import pytest

from curves.importers import MAX_BYTES, MAX_COLUMNS, MAX_ROWS, PROBLEMS, parse_readings, read_table
from tests.importers.test_patch_files import BAD_FILES as PATCH_FILES
from tests.importers.workbooks import archive, rewritten, workbook

HEAD = "step,log_exposure,density\n"
GOOD = HEAD + "1,-2.1,0.31\n2,-1.95,0.38\n3,-1.8,0.46\n"


def problems_of(data, require="log_exposure"):
    table = parse_readings(read_table(data if isinstance(data, bytes) else data.encode()), require=require)
    assert not table.is_valid
    return table.problems


# Text: (content, code, row, column, words of the message that say what to do)
TEXT_FILES = {
    "empty": ("", "EMPTY_FILE", None, None, "give a CSV file"),
    "blank lines": ("\n \n\n", "EMPTY_FILE", None, None, "give a CSV file"),
    "comments only": ("# nothing\n# more\n", "EMPTY_FILE", None, None, "give a table"),
    "header only": (HEAD, "NO_ROWS", 1, None, "one row per reading"),
    "header missing": ("1,-2.1,0.31\n2,-1.95,0.38\n", "HEADER_MISSING", 1, None, "column names"),
    "wrong columns": ("time,temp\n1,20\n", "MISSING_COLUMN", 1, "log_exposure", "the header has: time, temp"),
    "misspelt column": ("log_exposure,densty\n-2,0.3\n", "MISSING_COLUMN", 1, "density", "rename “densty”"),
    "duplicate header": (
        "log_exposure,density,log H\n-2,0.3,-2\n",
        "DUPLICATE_COLUMN",
        1,
        "log_exposure",
        "keep one",
    ),
    "wide and long": (
        "log_exposure,density,density_2\n-2,0.3,0.31\n",
        "DUPLICATE_COLUMN",
        1,
        "density",
        "exclude each other",
    ),
    "nameless column": (
        "log_exposure,,density\n-2.1,,0.3\n-1.8,7,0.4\n",
        "UNNAMED_COLUMN",
        1,
        None,
        "column 2 has no name",
    ),
    "letters in a number": (HEAD + "1,-2.1,O.31\n2,-1.9,0.4\n", "NOT_A_NUMBER", 2, "density", "“O.31”"),
    "unit in a number": (HEAD + "1,-2.1,0.31D\n2,-1.9,0.4\n", "NOT_A_NUMBER", 2, "density", "digits only"),
    "NaN": (HEAD + "1,-2.1,NaN\n2,-1.9,0.4\n", "NOT_FINITE", 2, "density", "take"),
    "infinity": (HEAD + "1,-inf,0.3\n2,-1.9,0.4\n", "NOT_FINITE", 2, "log_exposure", "no number"),
    "thousands": (
        'step,log_exposure,density\n1,-2.1,"1,234"\n2,-1.9,0.4\n',
        "AMBIGUOUS_NUMBER",
        2,
        "density",
        "point",
    ),
    "thousands with semicolons": (
        "log_exposure;density\n-2.1;1,234\n-1.9;2,345\n",
        "AMBIGUOUS_NUMBER",
        2,
        "density",
        "decimal point",
    ),
    "two marks": (
        "log_exposure;density\n-2.1;1.234,5\n-1.9;0,4\n",
        "AMBIGUOUS_NUMBER",
        2,
        "density",
        "point",
    ),
    "decimal comma in a comma file": (
        HEAD + '1,-2.1,"0,31"\n2,-1.9,0.4\n',
        "DECIMAL_COMMA",
        2,
        "density",
        "write 0.31",
    ),
    "unquoted decimal comma": (HEAD + "1,-2,1,0,31\n2,-1,9,0,40\n", "EXTRA_CELLS", 2, None, "semicolons"),
    "density too high": (HEAD + "1,-2.1,31\n2,-1.9,0.4\n", "OUT_OF_RANGE", 2, "density", "−0.1 to 6"),
    "density too low": (HEAD + "1,-2.1,-0.31\n2,-1.9,0.4\n", "OUT_OF_RANGE", 2, "density", "−0.1 to 6"),
    "exposure no logarithm": (HEAD + "1,120,0.3\n2,-1.9,0.4\n", "OUT_OF_RANGE", 2, "log_exposure", "log10"),
    "empty density": (HEAD + "1,-2.1,0.3\n2,-1.9,\n", "EMPTY_CELL", 3, "density", "take the row out"),
    "empty exposure": (HEAD + "1,,0.3\n2,-1.9,0.4\n", "EMPTY_CELL", 2, "log_exposure", "base plus fog"),
    "part of a step": (HEAD + "1.5,-2.1,0.3\n2,-1.9,0.4\n", "NOT_WHOLE", 2, "step", "whole number"),
    "odd mark": (
        "log_exposure,density,unexposed\n-2.1,0.3,maybe\n-1.9,0.4,\n",
        "NOT_A_MARK",
        2,
        "unexposed",
        "write 1",
    ),
    "exposed base plus fog": (
        "log_exposure,density,unexposed\n-2.1,0.3,1\n-1.9,0.4,\n",
        "UNEXPOSED_WITH_EXPOSURE",
        2,
        "log_exposure",
        "empty this cell",
    ),
    "duplicate step": (GOOD + "3,-1.8,0.47\n", "DUPLICATE_READING", 5, "step", "row 4 already"),
    "duplicate replicate": (
        "step,log_exposure,density,replicate\n1,-2.1,0.3,1\n1,-2.1,0.3,1\n2,-1.9,0.4,1\n",
        "DUPLICATE_READING",
        3,
        "step",
        "replicate 1 stands in row 2",
    ),
    "duplicate exposure": (
        "log_exposure,density\n-2.1,0.3\n-1.9,0.4\n-1.9,0.41\n",
        "DUPLICATE_READING",
        4,
        "log_exposure",
        "column replicate",
    ),
    "one step with two exposures": (
        "step,log_exposure,density,replicate\n1,-2.1,0.3,1\n2,-1.9,0.4,1\n2,-1.8,0.4,2\n",
        "CONFLICTING_EXPOSURE",
        4,
        "log_exposure",
        "one strip per file",
    ),
    "exposures out of order": (
        HEAD + "1,-2.1,0.3\n2,-1.8,0.4\n3,-1.95,0.5\n4,-1.65,0.6\n",
        "STEP_ORDER",
        4,
        "log_exposure",
        "check both",
    ),
    "descending tablet": (
        HEAD + "1,0.05,2.1\n2,0.35,1.6\n3,0.65,1.1\n4,0.95,0.6\n5,1.25,0.3\n",
        "DENSITY_FALLS",
        1,
        "log_exposure",
        "reached the film",
    ),
    "one step": (HEAD + "1,-2.1,0.3\n", "TOO_FEW_STEPS", 1, None, "at least 2"),
    "one step thrice": (
        "log_exposure,density,replicate\n-2.1,0.3,1\n-2.1,0.31,2\n-2.1,0.3,3\n",
        "TOO_FEW_STEPS",
        1,
        None,
        "at least 2",
    ),
    "base plus fog only": (
        "log_exposure,density,unexposed\n,0.3,1\n,0.31,1\n",
        "TOO_FEW_STEPS",
        1,
        None,
        "no exposed step",
    ),
    "decimal marks lost": (
        HEAD + "1,-2.1,0\n2,-1.9,1\n3,-1.8,2\n",
        "WHOLE_DENSITIES",
        1,
        "density",
        "decimal mark",
    ),
    "open quote": (HEAD + '1,-2.1,"0.3\n2,-1.9,0.4\n', "UNCLOSED_QUOTE", 2, None, "quotation mark"),
    "text behind a quote": (HEAD + '1,-2.1,"0.3"x\n2,-1.9,0.4\n', "UNCLOSED_QUOTE", 2, None, "double"),
    "endless cell": (HEAD + '1,-2.1,"' + "9" * 200_000 + '"\n', "NOT_A_TABLE", 2, None, "longer than"),
    "formula in text": (HEAD + "1,-2.1,=0.3+0.1\n2,-1.9,0.4\n", "NOT_A_NUMBER", 2, "density", "“=0.3+0.1”"),
}


@pytest.mark.parametrize("name", TEXT_FILES)
def test_bad_text_is_refused_with_place_and_cure(name):
    content, code, row, column, words = TEXT_FILES[name]
    first = problems_of(content)[0]
    assert (first.code, first.row, first.column) == (code, row, column)
    assert words in first.message


def test_too_many_rows_are_refused():
    lines = "".join(f"{n / 1000 - 5:.3f},0.5\n" for n in range(MAX_ROWS))
    (found,) = problems_of("log_exposure,density\n" + lines)
    assert (found.code, found.row) == ("TOO_MANY_ROWS", MAX_ROWS + 1)
    assert f"more than {MAX_ROWS} rows" in found.message


def test_too_many_columns_are_refused():
    header = ",".join(["log_exposure", "density", *(f"c{n}" for n in range(MAX_COLUMNS))])
    (found,) = problems_of(header + "\n-2,0.3\n")
    assert (found.code, found.row) == ("TOO_MANY_COLUMNS", 1)


def test_fifty_megabytes_are_refused_unread():
    (found,) = problems_of(b"9" * (50 * 1024**2))
    assert found.code == "TOO_LARGE"
    assert f"{MAX_BYTES // 1024**2} MB" in found.message


BYTES = {
    "picture": (b"\x89PNG\r\n\x1a\n" + bytes(40), "NOT_A_TABLE", None, "PNG picture"),
    "document": (b"%PDF-1.7\n%\xe2\xe3", "NOT_A_TABLE", None, "PDF document"),
    "old workbook": (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(80), "NOT_A_TABLE", None, ".xlsx workbook"),
    "noise": (bytes(range(1, 32)) * 9, "NOT_A_TABLE", 1, "control character 0x01"),
    "NUL in text": (GOOD.encode().replace(b"0.38", b"0\x0038"), "NOT_A_TABLE", 3, "0x00"),
    "UTF-16 with mark": (GOOD.encode("utf-16"), "WRONG_ENCODING", 1, "UTF-16"),
    "UTF-16 big-endian": (GOOD.encode("utf-16-be"), "WRONG_ENCODING", 1, "UTF-16"),
    "Latin-1": (
        (GOOD + "# Prüfung\n").encode("latin-1"),
        "WRONG_ENCODING",
        5,
        "byte 0xFC at position 68 is not UTF-8 (in ",
    ),
    "other archive": (archive({"notes.txt": "hello"}), "NOT_A_TABLE", None, "not an .xlsx workbook"),
    "cut workbook": (workbook()[:2000], "DAMAGED_FILE", None, "cut short"),
    "broken workbook": (
        rewritten(workbook(), "xl/worksheets/sheet1.xml", lambda xml: xml[:200]),
        "DAMAGED_FILE",
        None,
        "again",
    ),
    "entity bomb": (
        rewritten(
            workbook(),
            "xl/worksheets/sheet1.xml",
            lambda xml: (
                b'<!DOCTYPE x [<!ENTITY a "'
                + b"a" * 99
                + b'"><!ENTITY b "&a;&a;">]>'
                + xml[xml.index(b"<worksheet") :]
            ),
        ),
        "DAMAGED_FILE",
        None,
        "damaged or not plain",
    ),
    "zip bomb": (
        rewritten(workbook(), "xl/worksheets/sheet1.xml", lambda _: b" " * (60 * 1024**2)),
        "UNPACKS_TOO_LARGE",
        None,
        "would unpack to 60 MB",
    ),
    "bomb of styles": (
        rewritten(workbook(), "xl/styles.xml", lambda xml: xml + b" " * (2 * 1024**2)),
        "UNPACKS_TOO_LARGE",
        None,
        "copy them to a new workbook",
    ),
    "sheet without end": (
        rewritten(
            workbook(),
            "xl/worksheets/sheet1.xml",
            lambda xml: xml.replace(b'<row r="4"', b'<row r="99999999999"').replace(
                b'"B4"', b'"B99999999999"'
            ),
        ),
        "TOO_MANY_ROWS",
        1_048_577,
        "new sheet",
    ),
}


@pytest.mark.parametrize("name", BYTES)
def test_bad_bytes_are_refused_by_name(name):
    content, code, row, words = BYTES[name]
    (found,) = problems_of(content)
    assert (found.code, found.row) == (code, row)
    assert words in found.message


def test_workbooks_are_read_by_the_hardened_xml_parser():
    """The library uses the parser that forbids entities when it finds it installed."""
    assert openpyxl.DEFUSEDXML is True


def _set(cell, value):
    def change(book, sheet):
        sheet[cell] = value

    return change


def _hide(book, sheet):
    book.create_sheet("Empty")
    sheet.sheet_state = "hidden"


SHEETS = {
    "formula": (_set("C3", "=0.3+0.1"), "FORMULA_CELL", 3, "density", "cell C3 holds a formula (=0.3+0.1)"),
    "date": (_set("C3", datetime.date(2026, 5, 1)), "DATE_CELL", 3, "density", "cell C3 holds a date"),
    "error": (
        _set("B4", "#DIV/0!"),
        "ERROR_CELL",
        4,
        "log_exposure",
        "cell B4 holds the spreadsheet error #DIV/0!",
    ),
    "merged": (lambda book, sheet: sheet.merge_cells("A2:A3"), "MERGED_CELLS", 2, None, "A2:A3 are merged"),
    "hidden": (_hide, "NO_VISIBLE_SHEET", None, None, "visible sheet"),
    "words": (_set("C3", "faint"), "NOT_A_NUMBER", 3, "density", "“faint”"),
    "far cell": (_set("BN3", 1), "TOO_MANY_COLUMNS", 3, None, "66 columns"),
    "very far cell": (_set("XFD3", 1), "TOO_MANY_COLUMNS", 3, None, "reaches out to column 16384"),
}


@pytest.mark.parametrize("name", SHEETS)
def test_bad_sheets_are_refused_with_the_cell(name):
    change, code, row, column, words = SHEETS[name]
    first = problems_of(workbook(change=change))[0]
    assert (first.code, first.row, first.column) == (code, row, column)
    assert words in first.message


def cgats(*, fields="STEP LOG_H D_VIS", count=3, sets=2, rows=("1 -2.1 0.3", "2 -1.9 0.4"), end="END_DATA"):
    lines = ["CGATS.17", f"NUMBER_OF_FIELDS {count}", "BEGIN_DATA_FORMAT", fields, "END_DATA_FORMAT"]
    return "\n".join([*lines, f"NUMBER_OF_SETS {sets}", "BEGIN_DATA", *rows, end, ""])


CGATS_FILES = {
    "field count": (cgats(count=4), "FIELD_COUNT", 3, None, "says 4, but 3 fields"),
    "set count": (cgats(sets=3), "SET_COUNT", 9, None, "says 3, but there are 2 sets"),
    "short set": (cgats(rows=("1 -2.1", "2 -1.9 0.4")), "FIELD_COUNT", 8, None, "2 values for 3 fields"),
    "no number": (cgats(sets="many"), "SET_COUNT", 6, None, "whole number"),
    "cut short": (cgats(end=""), "DAMAGED_FILE", 7, None, "BEGIN_DATA has no END_DATA"),
    "no table": ('CGATS.17\nORIGINATOR "x"\n', "NO_ROWS", None, None, "BEGIN_DATA_FORMAT"),
    "no density": (cgats(fields="STEP LOG_H LAB_L"), "MISSING_COLUMN", None, "density", "D_VIS"),
    "two tables": (cgats() + cgats(), "SEVERAL_TABLES", 13, None, "one table per file"),
    "open quote": (cgats(rows=('"1 -2.1 0.3', "2 -1.9 0.4")), "UNCLOSED_QUOTE", 8, None, "same line"),
    "decimal comma": (cgats(rows=("1 -2,1 0.3", "2 -1.9 0.4")), "DECIMAL_COMMA", 8, "log_exposure", "-2.1"),
    "letters": (cgats(rows=("1 -2.1 x", "2 -1.9 0.4")), "NOT_A_NUMBER", 8, "density", "“x”"),
}


@pytest.mark.parametrize("name", CGATS_FILES)
def test_bad_cgats_is_refused_with_the_line(name):
    content, code, row, column, words = CGATS_FILES[name]
    first = problems_of(content)[0]
    assert (first.code, first.row, first.column) == (code, row, column)
    assert words in first.message


def test_a_missing_step_is_refused_where_a_tablet_supplies_the_exposure():
    found = problems_of("step,density\n1,0.3\n,0.4\n3,0.5\n", require="step")
    assert [(p.code, p.row, p.column) for p in found] == [("EMPTY_CELL", 3, "step")]
    (missing,) = problems_of("log_exposure,density\n-2.1,0.3\n", require="step")
    assert (missing.code, missing.column) == ("MISSING_COLUMN", "step")


def test_all_problems_are_told_at_once_in_the_order_of_the_file():
    """Forty planted faults in a thousand rows come back as forty, each with its row."""
    lines = [f"{n / 1000 - 2:.3f},{0.2 + n / 1000:.3f}" for n in range(1000)]
    bad = list(range(10, 1000, 25))
    for n in bad:
        lines[n] = lines[n].replace(",", ",O") if n % 2 else lines[n] + "x"
    found = problems_of("log_exposure,density\n" + "\n".join(lines) + "\n")
    assert [problem.row for problem in found] == [n + 2 for n in bad]
    assert len(found) == 40
    assert {problem.code for problem in found} == {"NOT_A_NUMBER"}


def test_two_bad_cells_of_a_row_are_both_told():
    found = problems_of(HEAD + "x,y,z\n2,-1.9,0.4\n")
    assert [problem.column for problem in found] == ["log_exposure", "step", "density"]


def test_every_code_is_reached_by_a_bad_file():
    """No code is idle: each entry of the registry is what some file above is refused for."""
    tables = (TEXT_FILES, BYTES, SHEETS, CGATS_FILES, PATCH_FILES)
    reached = {case[1] for table in tables for case in table.values()}
    reached |= {"TOO_LARGE", "TOO_MANY_ROWS", "OTHER_CHANNEL"}  # each has a test of its own
    assert reached == set(PROBLEMS)


def test_a_value_is_shown_short_and_printable():
    (found,) = problems_of(HEAD + "1,-2.1," + "\u202e9" * 60 + "\n2,-1.9,0.4\n")
    assert len(found.value) <= 40
    assert found.value.isprintable()
    assert found.message.isprintable()
