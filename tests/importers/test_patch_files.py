"""Tables of patch densities: what is read of them, and each kind of bad one with what would mend it."""

import datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curves.importers import PatchRow, parse_patches, read_table, write_patches_csv
from tests.importers.workbooks import workbook

HEAD = "frame,patch,density\n"
GOOD = HEAD + "2,Grey,0.61\n2,Blue,0.4\n"

#: content, code, row, column, words of the message that say what to do
BAD_FILES = {
    "empty": ("# nothing\n", "EMPTY_FILE", None, None, "give a table of patches"),
    "header only": (HEAD, "NO_ROWS", 1, None, "one row a patch and frame"),
    "all unread": (HEAD + "2,Grey,\n", "NO_ROWS", 1, None, "one row a patch and frame"),
    "no frame": ("patch,density\nGrey,0.6\n", "MISSING_COLUMN", 1, "frame", "name one of them frame"),
    "misspelt patch": ("frame,pach,density\n2,Grey,0.6\n", "MISSING_COLUMN", 1, "patch", "rename “pach”"),
    "nameless patch": (GOOD + "2,,0.5\n", "EMPTY_CELL", 4, "patch", "give it in every row"),
    "long frame": (GOOD + "x" * 21 + ",Red,0.5\n", "TOO_LONG", 4, "frame", "at most 20"),
    "letters": (GOOD + "2,Red,O.5\n", "NOT_A_NUMBER", 4, "density", "“O.5”"),
    "lost decimal mark": (HEAD + "2,A,61\n", "OUT_OF_RANGE", 2, "density", "decimal point"),
    "all whole": (HEAD + "2,A,1\n2,B,2\n2,C,1\n", "WHOLE_DENSITIES", 1, "density", "0.53"),
    "decimal comma": (HEAD + '2,A,"0,61"\n', "DECIMAL_COMMA", 2, "density", "write 0.61"),
    "percent": ("frame,patch,density (%)\n2,A,18\n", "WRONG_UNIT", 1, "density", "convert it"),
    "offset in log": (
        "frame,patch,density,offset [log H]\n2,A,0.5,0.3\n",
        "WRONG_UNIT",
        1,
        "offset_stops",
        "in stops",
    ),
    "offset too far": (
        "frame,patch,density,bracket\n2,A,0.5,20\n",
        "OUT_OF_RANGE",
        2,
        "offset_stops",
        "check the sign",
    ),
    "index of nothing": (
        "frame,patch,density,index\n2,A,0.5,0\n",
        "OUT_OF_RANGE",
        2,
        "metered_index",
        "as 100",
    ),
    "unknown light": (
        "frame,patch,density,light\n2,A,0.5,moon\n",
        "NOT_A_LIGHT",
        2,
        "light",
        "daylight or tungsten",
    ),
    "same patch twice": (GOOD + "2,BLUE,0.41\n", "DUPLICATE_READING", 4, "patch", "stands in row 3"),
    "same repeat twice": (
        "frame,patch,density,repeat\n2,A,0.5,2\n2,A,0.6,2\n",
        "DUPLICATE_READING",
        3,
        "patch",
        "with repeat 2",
    ),
    "half a repeat": (
        "frame,patch,density,repeat\n2,A,0.5,1.5\n",
        "NOT_WHOLE",
        2,
        "replicate",
        "whole number",
    ),
    "two offsets of a frame": (
        "frame,patch,density,offset\n2,A,0.5,1\n2,B,0.6,−1\n",
        "CONFLICTING_FRAME",
        3,
        "offset_stops",
        "1 in row 2",
    ),
    "two filters of a frame": (
        "frame,patch,density,filter\n2,A,0.5,yellow\n2,B,0.6,red\n",
        "CONFLICTING_FRAME",
        3,
        "filter",
        "yellow in row 2",
    ),
    "several channels": (
        "frame,patch,density,channel\n2,A,0.5,red\n2,A,0.6,visual\n",
        "SEVERAL_CHANNELS",
        1,
        "channel",
        "choose the instrument",
    ),
}


def table_of(content, **how):
    return parse_patches(read_table(content if isinstance(content, bytes) else content.encode()), **how)


@pytest.mark.parametrize("name", BAD_FILES)
def test_a_bad_file_is_refused_with_its_place_and_what_would_do(name):
    content, code, row, column, words = BAD_FILES[name]
    table = table_of(content)
    assert not table.is_valid
    found = table.problems[0]
    assert (found.code, found.row, found.column) == (code, row, column)
    assert words in found.message


def test_every_fault_of_a_file_is_told_in_its_order():
    table = table_of("frame,patch,density,light\n2,A,x,\n,B,0.5,\n2,C,0.6,moon\n2,D,9.5,\n")
    assert [(p.row, p.column) for p in table.problems] == [
        (2, "density"),
        (3, "frame"),
        (4, "light"),
        (5, "density"),
    ]


@pytest.mark.parametrize(
    "content",
    [
        "frame,patch,density,offset,filter\n3,Blue,0.71,-1,\n3,Red,0.5,-1,\n",
        "Frame;Patch name;Gross density (D);Offset (stops);Filter\n3;Blue;0,71;−1;none\n3;Red;0,5;;\n",
        "negative\tpatch\tD\tbracket [EV]\tfilter\n3\tBlue\t0.71\t-1\t\n3\tRed\t0.5\t\t\n",
        workbook(
            (
                ("frame", "patch", "density", "offset stops", "filter"),
                (3, "Blue", 0.71, -1, "-"),
                (3, "Red", 0.5),
            )
        ),
    ],
    ids=["commas", "semicolons and decimal commas", "tabs", "workbook"],
)
def test_every_kind_of_file_gives_the_same_rows(content):
    table = table_of(content)
    assert not table.problems and table.is_valid
    rows = [(row.frame, row.patch, row.density, row.offset_stops, row.filter_name) for row in table.rows]
    assert rows[0] == ("3", "Blue", 0.71, -1.0, "")
    assert rows[1][:3] == ("3", "Red", 0.5)


def test_a_spreadsheet_s_formula_and_date_are_refused_by_cell():
    def spoil(_, sheet):
        sheet["C2"] = "=0.5+0.1"
        sheet["A3"] = datetime.date(2026, 3, 2)

    rows = (("frame", "patch", "density"), (2, "A", 0.5), (2, "B", 0.6))
    table = table_of(workbook(rows, change=spoil))
    assert [(p.code, p.row, p.column) for p in table.problems] == [
        ("FORMULA_CELL", 2, "density"),
        ("DATE_CELL", 3, "frame"),
    ]
    assert "cell C2" in table.problems[0].message


def test_repeats_are_numbered_only_where_every_patch_has_as_many():
    rows = table_of(HEAD + "2,A,0.50\n2,A,0.52\n2,B,0.60\n2,B,0.61\n").rows
    assert [(row.patch, row.replicate) for row in rows] == [("A", 1), ("A", 2), ("B", 1), ("B", 2)]
    wide = table_of("frame,patch,density_1,density_2\n2,A,0.5,0.52\n2,B,0.6,\n")
    assert [(row.patch, row.replicate) for row in wide.rows] == [("A", 1), ("A", 2), ("B", 1)]


def test_rows_that_are_still_empty_are_passed_over_and_counted():
    table = table_of(GOOD + "2,Red,\n2,Skin,\n")
    assert len(table.rows) == 2
    assert "without a density and passed over: 2 rows, the first is 4" in table.notes


def test_a_row_taken_for_a_comment_is_told():
    table = table_of(GOOD + "#3,Red,0.5\n")
    assert len(table.rows) == 2
    assert "lines below the header that start with # passed over: 4" in table.notes


def test_the_wanted_channel_alone_is_read():
    content = "frame,patch,density,channel\n2,A,0.5,Red\n2,A,0.6,Vis\n2,B,0.7,visual\n"
    table = table_of(content, channel="visual")
    assert [row.density for row in table.rows] == [0.6, 0.7]
    assert "rows of other channels than visual passed over: 1" in table.notes
    (refusal,) = table_of(content, channel="blue").problems
    assert refusal.code == "OTHER_CHANNEL" and "red, visual" in refusal.message
    assert table_of("frame,patch,density,channel\n2,A,0.5,red\n").is_valid, "one channel needs no choice"


NAMES = st.text(st.characters(exclude_categories=["Cs", "Cc", "Z"]), min_size=1, max_size=12)


@given(
    st.dictionaries(
        st.tuples(NAMES, NAMES).map(lambda pair: (pair[0].casefold(), pair[1].casefold())),
        st.floats(0.05, 5.95),
        min_size=1,
        max_size=6,
    )
)
@settings(max_examples=60, deadline=None)
def test_what_is_written_is_read_back_unchanged(densities):
    densities[("#1", "=a")] = 0.5  # what a reader may take for a comment, or a spreadsheet for a formula
    rows = [
        PatchRow(at, frame, patch, density, 1, -0.5, 125.0, "", "tungsten")
        for at, ((frame, patch), density) in enumerate(densities.items())
    ]
    table = table_of(write_patches_csv(rows, comments=["Made for a test, with a comma"]))
    if {p.code for p in table.problems} == {"DUPLICATE_READING"}:
        return  # names that differ only in case after folding once more
    assert not table.problems
    read = [(row.frame, row.patch, row.density, row.replicate, row.light) for row in table.rows]
    assert read == [(row.frame, row.patch, row.density, 1, "tungsten") for row in rows]
