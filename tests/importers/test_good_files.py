"""Good files of every kind give the same readings, and what was assumed is told."""

from dataclasses import replace
from pathlib import Path

import pytest

from curves.importers import parse_readings, read_table
from tests.importers.workbooks import GOOD_ROWS, spreadsheet_program_workbook, workbook

DATA = Path(__file__).parents[1] / "data"


def table_of(data, **options):
    table = parse_readings(read_table(data if isinstance(data, bytes) else data.encode()), **options)
    assert table.problems == ()
    assert table.is_valid
    return table


def content(table):
    return [replace(row, row=0) for row in table.rows]


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("strip-soft-toe.csv", "csv"),
        ("strip-soft-toe-semicolon.csv", "csv"),
        ("strip-soft-toe.xlsx", "xlsx"),
        ("strip-soft-toe.txt", "cgats"),
    ],
)
def test_one_strip_reads_the_same_from_every_kind_of_file(name, kind):
    table = table_of((DATA / name).read_bytes())
    assert table.kind == kind
    assert content(table) == content(table_of((DATA / "strip-soft-toe.csv").read_bytes()))
    assert len(table.rows) == 66
    assert [row.density for row in table.rows if row.is_unexposed] == [0.25, 0.25, 0.25]
    first = table.rows[3]
    assert (first.step, first.log_exposure, first.density, first.replicate) == (1, -0.4, 1.79, 1)


def test_the_row_number_is_the_line_of_the_file():
    table = table_of("# made by hand\n\nlog_exposure,density\n-2.1,0.3\n# a comment\n\n-1.9,0.4\n")
    assert [row.row for row in table.rows] == [4, 7]


@pytest.mark.parametrize("mark", ["\t", ";", ","])
def test_separators_are_recognised_and_told(mark):
    table = table_of(f"log_exposure{mark}density\n-2.1{mark}0.3\n-1.9{mark}0.4\n")
    assert [row.density for row in table.rows] == [0.3, 0.4]
    names = {"\t": "tab", ";": "semicolon", ",": "comma"}
    assert f"cells are separated by: {names[mark]}" in table.notes


def test_a_separator_told_in_the_first_line_is_believed():
    assert len(table_of("sep=;\nlog_exposure;density\n-2,1;0,3\n-1,9;0,4\n").rows) == 2


@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
def test_every_line_end_is_taken(line_end):
    table = table_of("log_exposure,density\n-2.1,0.3\n-1.9,0.4\n".replace("\n", line_end))
    assert [row.row for row in table.rows] == [2, 3]


def test_decimal_comma_and_point_are_both_taken_where_no_comma_separates():
    table = table_of("log_exposure;density\n−2,10;0,3\n-1.9;0.4\n")
    assert [(row.log_exposure, row.density) for row in table.rows] == [(-2.1, 0.3), (-1.9, 0.4)]


def test_three_decimals_are_no_thousands_when_the_file_shows_its_comma():
    """1,234 alone is ambiguous; beside 0,215 and without any point it can only be 1.234."""
    table = table_of("log_exposure;density\n-2,105;0,215\n-1,105;1,234\n")
    assert [row.density for row in table.rows] == [0.215, 1.234]


def test_wide_columns_are_replicates_and_may_have_gaps():
    table = table_of("step,density_1,density_2,D3\n1,0.3,0.31,0.32\n2,0.4,,0.42\n", require="step")
    found = [(row.step, row.replicate, row.density) for row in table.rows]
    assert found == [(1, 1, 0.3), (1, 2, 0.31), (1, 3, 0.32), (2, 1, 0.4), (2, 3, 0.42)]
    assert "3 density columns read as replicates" in table.notes


def test_steps_read_equally_often_are_numbered_as_replicates():
    table = table_of("step,log_exposure,density\n1,-2.1,0.3\n1,-2.1,0.31\n2,-1.9,0.4\n2,-1.9,0.42\n")
    assert [row.replicate for row in table.rows] == [1, 2, 1, 2]
    assert "every step stands 2 times: read as replicates" in table.notes


def test_unnumbered_readings_of_the_unexposed_area_are_numbered():
    table = table_of("log_exposure,density,unexposed\n,0.2,1\n,0.21,1\n-2.1,0.3,0\n-1.9,0.4,\n")
    assert [row.replicate for row in table.rows] == [1, 2, None, None]


def test_what_was_assumed_is_told():
    text = "lab sheet of strip 3\nstep;Log H (lux s);Density;weather\n3;-2,1;0,3;fair\n4;-2,4;0,2;\n"
    notes = table_of(text).notes
    assert notes == (
        "cells are separated by: semicolon",
        "lines above the header in row 2 passed over: 1",
        "columns not read: weather",
        "log exposure falls as the step number rises",
        "no reading of the unexposed area: what counts from base plus fog will be withheld",
    )


def test_trailing_empty_cells_and_rows_are_tolerated():
    table = table_of("log_exposure,density,,\n-2.1,0.3,,,,\n-1.9,0.4,,\n,,,\n\n")
    assert [row.density for row in table.rows] == [0.3, 0.4]


def test_a_workbook_says_which_sheet_was_read():
    def change(book, sheet):
        book.create_sheet("Notes", 0)["A1"] = "written by hand"
        book.create_sheet("Old").sheet_state = "hidden"
        sheet.row_dimensions[3].hidden = True

    table = table_of(workbook(change=change))
    assert table.notes[:3] == (
        "sheet read: Strip",
        "sheets not read: Notes, Old",
        "hidden rows were read, too: 1",
    )
    assert [row.row for row in table.rows] == [2, 3, 4]


def test_a_workbook_may_hold_formulas_and_dates_beside_the_readings():
    rows = [(*row, extra) for row, extra in zip(GOOD_ROWS, ["read at", "=1+1", None, None], strict=True)]
    table = table_of(workbook(rows))
    assert "columns not read: read at" in table.notes


def test_a_workbook_of_a_spreadsheet_program_is_read():
    """Shared and rich strings are put together, binary fractions tidied, false dimensions not believed."""
    table = table_of(spreadsheet_program_workbook())
    assert [(row.row, row.log_exposure, row.density) for row in table.rows] == [
        (2, -2.1, 0.31),
        (3, -1.95, 0.38),
    ]


def test_numbers_typed_as_text_are_read_from_a_workbook():
    rows = [("log_exposure", "density"), ("-2,1", "0,30"), (-1.9, 0.1 + 0.2)]
    assert [row.density for row in table_of(workbook(rows)).rows] == [0.3, 0.3]


def test_a_merged_title_above_the_table_does_no_harm():
    def change(_, sheet):
        sheet.insert_rows(1)
        sheet["A1"] = "Strip 3"
        sheet.merge_cells("A1:C1")

    assert len(table_of(workbook(change=change)).rows) == 3


def test_a_cell_in_the_last_row_of_a_sheet_costs_no_time():
    """A sheet whose only other cell is a million rows down is read, and the far row is told as such."""
    table = parse_readings(read_table(workbook(change=lambda _, sheet: sheet.cell(1_048_576, 3, 0.9))))
    assert [(p.row, p.column) for p in table.problems] == [(1_048_576, "log_exposure")]


def test_cgats_values_may_be_broken_over_lines():
    text = (
        '\ufeffCGATS.17\r\nORIGINATOR "A lab"\r\nBEGIN_DATA_FORMAT\r\nSAMPLE_ID LOG_H D_RED D_VIS\r\n'
        "END_DATA_FORMAT\r\nNUMBER_OF_SETS 2 # two\r\n"
        "BEGIN_DATA\r\n1 -2.1 0.29\r\n0.3 2\r\n-1.9 0.39 0.4\r\nEND_DATA\r\n"
    )
    table = table_of(text)
    assert [(row.step, row.log_exposure, row.density) for row in table.rows] == [
        (1, -2.1, 0.3),
        (2, -1.9, 0.4),
    ]
    assert table.keywords == {"ORIGINATOR": "A lab"}
    assert "density read from the field D_VIS" in table.notes


def test_cgats_sample_names_that_are_no_numbers_are_no_steps():
    text = (
        "CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID LOG_H D_VIS\nEND_DATA_FORMAT\n"
        "BEGIN_DATA\nA1 -2.1 0.3\nA2 -1.9 0.4\nEND_DATA\n"
    )
    assert [row.step for row in table_of(text).rows] == [None, None]


def test_another_requirement_is_the_callers_mistake():
    with pytest.raises(ValueError, match="require must be"):
        parse_readings(read_table(b"step,density\n1,0.2\n"), require="exposure")
