"""What is written is read back unchanged, whatever the readings and remarks."""

import csv
import io
from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curves.importers import (
    ReadingRow,
    escape_text,
    parse_readings,
    read_table,
    unescape_text,
    write_readings_cgats,
    write_readings_csv,
)

REMARKS = st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=20).map(str.strip)


@st.composite
def strips(draw, remarks=REMARKS):
    """Readings of one strip: steps in order, density rising, each step read once to three times."""
    count = draw(st.integers(2, 12))
    start = draw(st.floats(-5, 1))
    repeats = draw(st.integers(1, 3))
    rows = []
    if draw(st.booleans()):
        rows.append(ReadingRow(0, 0.205, replicate=1, is_unexposed=True, remark=draw(remarks)))
    for step in range(1, count + 1):
        for replicate in range(1, repeats + 1):
            density = 0.205 + 0.1 * step + draw(st.floats(-0.02, 0.02))
            rows.append(ReadingRow(0, density, start + 0.15 * step, step, replicate, remark=draw(remarks)))
    return rows


@settings(max_examples=60, deadline=None, derandomize=True)
@given(strips(), st.lists(REMARKS, max_size=2))
def test_csv_comes_back_unchanged(rows, comments):
    table = parse_readings(read_table(write_readings_csv(rows, comments=comments).encode()))
    assert table.problems == ()
    assert [replace(row, row=0) for row in table.rows] == rows


@settings(max_examples=60, deadline=None, derandomize=True)
@given(strips(remarks=st.just("")), REMARKS)
def test_cgats_comes_back_unchanged(rows, descriptor):
    text = write_readings_cgats(
        rows,
        originator="A lab",
        descriptor=descriptor,
        created=date(2026, 3, 1),
        keywords={"INSTRUMENTATION": 'densitometer "3"'},
    )
    table = parse_readings(read_table(text.encode()))
    assert table.problems == ()
    assert [replace(row, row=0) for row in table.rows] == rows
    assert table.keywords["INSTRUMENTATION"] == "densitometer '3'"


def test_cgats_states_its_counts_and_declares_its_own_fields():
    rows = [ReadingRow(0, 0.3, -2.1, 1), ReadingRow(0, 0.4, -1.9, 2)]
    text = write_readings_cgats(rows, originator="A", descriptor="B", created=date(2026, 3, 1))
    lines = text.split("\n")
    assert lines[0] == "CGATS.17"
    assert {"NUMBER_OF_FIELDS 6", "NUMBER_OF_SETS 2", 'KEYWORD "LOG_H"', 'CREATED "2026-03-01"'} <= set(lines)
    with pytest.raises(ValueError, match="not a CGATS keyword"):
        write_readings_cgats(rows, originator="A", descriptor="B", created=date.today(), keywords={"1X": ""})


@given(st.text(max_size=12))
@settings(max_examples=200, derandomize=True)
def test_escaping_is_undone_exactly(text):
    assert unescape_text(escape_text(text)) == text


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1"])
def test_text_that_a_spreadsheet_would_run_is_escaped(text):
    assert escape_text(text).startswith("'")


def test_no_cell_of_an_export_can_start_a_formula_but_numbers_keep_their_sign():
    rows = [
        ReadingRow(0, -0.02, -2.1, 1, remark="=HYPERLINK(1)"),
        ReadingRow(0, 0.4, -1.9, 2, remark="@x, then"),
    ]
    text = write_readings_csv(rows, comments=["roll 3, =1+1, @x", "plain"])
    cells = [cell for record in csv.reader(io.StringIO(text)) for cell in record]
    risky = [cell for cell in cells if cell[:1] in tuple("=+-@\t\r")]
    assert risky == ["-2.1", "-0.02", "-1.9"]
    assert parse_readings(read_table(text.encode())).rows[0].remark == "=HYPERLINK(1)"
