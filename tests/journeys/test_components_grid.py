"""The readings grid: typed, pasted and checked by keyboard, and nothing typed is lost."""

import json
from urllib.parse import parse_qs

import pytest

from curves.importers.numbers import comma_is_decimal, parse_number
from tests.journeys.component_site import ORIGIN, ComponentSite

pytestmark = pytest.mark.journey

STEPS = 21
GRID = (
    '{% include "components/readings_grid.html" with url="/saved/" rows=rows replicates=replicates '
    'direction=direction draft="roll-12" spread_limit=0.03 reading_sd=0.01 csrf_token="abc" only %}'
)


def grid_rows(replicates=3, values=None, steps=STEPS):
    values = values or {}
    names = ["unexposed", *(str(step) for step in range(1, steps + 1))]
    return [
        {
            "name": name,
            "label": name,
            "hint": "",
            "cells": [
                {"name": cell, "value": values.get(cell, ""), "error": ""}
                for cell in (f"d-{name}-{replicate}" for replicate in range(1, replicates + 1))
            ],
        }
        for name in names
    ]


@pytest.fixture
def site(chromium):
    site = ComponentSite(chromium)
    site.put("/saved/", '<div data-module="clear-draft" data-draft="roll-12"></div>Saved.')
    yield site
    site.close()


@pytest.fixture
def grid(site):
    """``grid(replicates=3, values={}, direction="rising", steps=21)``: a page with that grid."""

    def make(replicates=3, values=None, direction="rising", steps=STEPS, **options):
        rows = grid_rows(replicates, values, steps)
        site.put("/grid/", GRID, rows=rows, replicates=range(1, replicates + 1), direction=direction)
        return site.open("/grid/", **options)

    return make


def value(page, name):
    return page.locator(f'[name="{name}"]').input_value()


def focused(page):
    return page.evaluate("document.activeElement.name")


def note(page, step):
    return page.locator(f"#note-{step}").inner_text()


def paste(page, text):
    """What the browser does when text is pasted into the focused cell."""
    page.evaluate(
        """text => {
          const data = new DataTransfer();
          data.setData("text/plain", text);
          const event = new ClipboardEvent("paste", {clipboardData: data, bubbles: true, cancelable: true});
          document.activeElement.dispatchEvent(event);
        }""",
        text,
    )


# --- Keyboard


def test_a_whole_strip_is_typed_with_digits_and_enter_only(site, grid):
    page = grid()
    page.locator('[name="d-unexposed-1"]').focus()
    expected = {}
    for replicate in (1, 2, 3):
        for step in range(STEPS + 1):
            text = f"{0.2 + 0.1 * step + 0.01 * (replicate - 1):.2f}"
            page.keyboard.type(text)
            page.keyboard.press("Enter")
            expected[f"d-{step or 'unexposed'}-{replicate}"] = text
    assert {name: value(page, name) for name in expected} == expected
    # Enter in the last cell neither leaves it nor sends the form: an instrument may send one too many.
    assert focused(page) == f"d-{STEPS}-3" and site.posted == []
    page.get_by_text("That was the last cell.").wait_for(state="attached")
    page.get_by_role("button", name="Save the readings").click()
    page.get_by_text("Saved.").wait_for()
    sent = {name: values[0] for name, values in parse_qs(site.posted[0]).items()}
    assert {name: sent[name] for name in expected} == expected


def test_keys_move_between_cells(grid):
    page = grid(steps=3)
    page.locator('[name="d-1-1"]').focus()
    moves = [
        ("Enter", "d-2-1"),
        ("Shift+Enter", "d-1-1"),
        ("ArrowDown", "d-2-1"),
        ("ArrowRight", "d-2-2"),
        ("ArrowUp", "d-1-2"),
        ("ArrowLeft", "d-1-1"),
        ("Tab", "d-1-2"),
        ("ArrowUp", "d-unexposed-2"),
        ("Shift+Enter", "d-3-1"),
        ("Enter", "d-unexposed-2"),
    ]
    for key, name in moves:
        page.keyboard.press(key)
        assert focused(page) == name, key


def test_arrows_move_inside_a_text_before_they_leave_the_cell(grid):
    page = grid(steps=3, values={"d-1-1": "0.52"})
    page.locator('[name="d-1-1"]').focus()
    page.keyboard.press("End")
    page.keyboard.press("ArrowLeft")
    assert focused(page) == "d-1-1"
    page.keyboard.press("End")
    page.keyboard.press("ArrowRight")
    assert focused(page) == "d-1-2"


def test_typing_replaces_what_stood_in_the_cell(grid):
    page = grid(steps=3, values={"d-1-1": "0.52"})
    page.locator('[name="d-unexposed-1"]').focus()
    page.keyboard.press("Enter")
    page.keyboard.type("0.61")
    assert value(page, "d-1-1") == "0.61"


def test_another_reading_a_step_can_be_added(grid):
    page = grid(replicates=2, steps=3)
    page.get_by_role("button", name="Add a reading").click()
    assert focused(page) == "d-unexposed-3"
    assert page.locator('[name="d-3-3"]').get_attribute("aria-label") == "Step 3, reading 3"
    assert page.locator("th[data-replicate]").all_inner_texts() == ["Reading 1", "Reading 2", "Reading 3"]


# --- Pasting


def test_a_pasted_column_fills_downwards_and_can_be_taken_back(grid):
    page = grid(values={"d-2-1": "0.99"})
    page.locator('[name="d-1-1"]').focus()
    paste(page, "0.31\r\n0,42\r\n0.53\r\n")
    assert [value(page, f"d-{step}-1") for step in (1, 2, 3, 4)] == ["0.31", "0,42", "0.53", ""]
    notice = page.locator("[data-grid-notice]")
    assert "Pasted 3 values." in notice.inner_text()
    notice.get_by_role("button", name="Undo").click()
    assert [value(page, f"d-{step}-1") for step in (1, 2, 3)] == ["", "0.99", ""]
    assert notice.is_hidden()


def test_ctrl_z_takes_a_paste_back_until_something_is_typed(grid):
    page = grid(steps=4)
    page.locator('[name="d-1-1"]').focus()
    paste(page, "0.3\n0.4")
    page.keyboard.press("Control+z")
    assert [value(page, f"d-{step}-1") for step in (1, 2)] == ["", ""]
    paste(page, "0.3\n0.4")
    page.keyboard.type("0.35")
    page.keyboard.press("Control+z")
    assert value(page, "d-2-1") == "0.4"


def test_a_pasted_block_adds_columns_and_says_what_found_no_cell(grid):
    page = grid(replicates=1, steps=3)
    page.locator('[name="d-2-1"]').focus()
    paste(page, "0.4\t0.5\n0.6\t0.7\n0.8\t0.9")
    assert [value(page, name) for name in ("d-2-1", "d-2-2", "d-3-1", "d-3-2")] == [
        "0.4",
        "0.5",
        "0.6",
        "0.7",
    ]
    assert "2 found no cell and were left out" in page.locator("[data-grid-notice]").inner_text()


def test_pasted_words_are_kept_and_marked_rather_than_dropped(grid):
    page = grid(steps=3)
    page.locator('[name="d-1-1"]').focus()
    paste(page, "Density\n0.42")
    assert value(page, "d-1-1") == "Density" and "“Density” is not a number" in note(page, 1)


# --- Checks


def test_rows_say_what_to_look_at(grid):
    page = grid(steps=5)
    for name, text in {
        "d-1-1": "0.30",
        "d-2-1": "o.41",
        "d-3-1": "7",
        "d-3-2": "-0.2",
        "d-4-1": "1,234",
        "d-5-1": "0.60",
        "d-5-2": "0.66",
    }.items():
        page.locator(f'[name="{name}"]').fill(text)
    assert note(page, 1) == ""
    assert note(page, 2) == "“o.41” is not a number"
    assert note(page, 3) == "7 is outside −0.1 to 6; −0.2 is outside −0.1 to 6"
    assert note(page, 4) == "“1,234” could mean thousands; write it with a point"
    assert note(page, 5) == "readings differ by 0.06 D"
    invalid = page.locator("input[aria-invalid=true]")
    assert [each.get_attribute("name") for each in invalid.all()] == ["d-2-1", "d-3-1", "d-3-2", "d-4-1"]
    assert page.locator('[name="d-2-1"]').get_attribute("aria-describedby") == "note-2"
    page.locator('[name="d-2-1"]').fill("0.41")
    assert note(page, 2) == "" and page.locator('[name="d-2-1"]').get_attribute("aria-invalid") is None


def test_what_the_server_refused_stands_until_the_row_is_changed(site):
    rows = grid_rows(2, {"d-2-1": "0.41"}, 3)
    rows[2]["cells"][0]["error"] = "was read by another instrument."
    site.put("/grid/", GRID, rows=rows, replicates=[1, 2], direction="rising")
    page = site.open("/grid/")
    page.locator('[name="d-1-1"]').fill("0.30")
    assert note(page, 2) == "Reading 1: was read by another instrument."
    assert page.locator('[name="d-2-1"]').get_attribute("aria-invalid") == "true"
    page.locator('[name="d-2-1"]').fill("0.43")
    assert note(page, 2) == "" and page.locator('[name="d-2-1"]').get_attribute("aria-invalid") is None


def test_warnings_are_announced_for_the_row_at_hand(grid):
    page = grid(steps=3)
    page.locator('[name="d-2-1"]').fill("x")
    page.get_by_text("Step 2: “x” is not a number").wait_for(state="attached")
    assert page.locator("[data-grid-status]").get_attribute("aria-live") == "polite"


@pytest.mark.parametrize(
    ("direction", "values", "falling_step"),
    [
        ("rising", {"d-1-1": "0.40", "d-2-1": "0.30", "d-3-1": "0.60"}, 2),
        ("falling", {"d-1-1": "0.60", "d-2-1": "0.30", "d-3-1": "0.40"}, 2),
        # 0.02 lower: within 1.96 · 0.01 · √2 = 0.028, which reading noise explains.
        ("rising", {"d-1-1": "0.32", "d-2-1": "0.30", "d-3-1": "0.60"}, None),
        # An empty step lies between; its neighbours are compared.
        ("rising", {"d-1-1": "0.40", "d-3-1": "0.30"}, 3),
    ],
)
def test_a_step_that_falls_when_it_should_rise_is_told(grid, direction, values, falling_step):
    page = grid(steps=3, values=values, direction=direction)
    told = [step for step in (1, 2, 3) if "has more exposure than step" in note(page, step)]
    assert told == ([falling_step] if falling_step else [])


def test_replicates_narrow_what_noise_explains(grid):
    """Three readings each: 1.96 · 0.01 · √(2/3) = 0.016, so a fall of 0.02 is told."""
    low, high = (
        dict.fromkeys((f"d-2-{r}" for r in (1, 2, 3)), "0.30"),
        dict.fromkeys((f"d-1-{r}" for r in (1, 2, 3)), "0.32"),
    )
    page = grid(steps=2, values=low | high)
    assert "reads 0.02 D less" in note(page, 2)


def test_means_run_along(grid):
    page = grid(steps=2, values={"d-1-1": "0.30"})
    mean = page.locator('tr[data-step="1"] [data-grid-mean]')
    assert mean.inner_text() == "0.300"
    page.locator('[name="d-1-2"]').fill("0,32")
    assert mean.inner_text() == "0.310"
    page.locator('[name="d-1-3"]').fill("x")
    assert mean.inner_text() == "0.310"


NUMBERS = [
    "0.15",
    "0,15",
    ".5",
    ",5",
    "1,234",
    "0,150",
    "1.5e-1",
    "−0,05",
    "+0.2",
    "1 234",
    "1.234,5",
    "2.",
    "nan",
    "0.1 5",
]


def test_numbers_are_read_by_the_same_rules_as_on_the_server(site):
    site.put("/empty/", "")
    page = site.open("/empty/")
    read = """async texts => {
      const {readCell} = await import("/static/js/grid-values.js");
      return texts.map(text => readCell(text, {minimum: -1e9, maximum: 1e9}).value);
    }"""
    assert page.evaluate(read, NUMBERS) == [parse_number(text, comma="decimal")[0] for text in NUMBERS]
    sure = "texts => import('/static/js/grid-values.js').then(({commaIsDecimal}) => commaIsDecimal(texts))"
    for texts in (["1,234", "0,15"], ["1,234", "2,345"], ["0,15", "0.15"], ["", "x"], ["0.5"]):
        assert page.evaluate(sure, texts) == comma_is_decimal(texts), texts


# --- Nothing typed is lost


def kept(page):
    return json.loads(page.evaluate("localStorage.getItem('readings:roll-12')") or "null")


def type_and_leave(site, page):
    """Type two readings, wait until they are kept, and come back to the grid as the server has it."""
    page.locator('[name="d-1-1"]').fill("0.31")
    page.locator('[name="d-2-4"]').fill("0.45")
    page.wait_for_timeout(400)
    assert kept(page)["values"]["d-2-4"] == "0.45"
    page.on("dialog", lambda dialog: dialog.accept())
    site.go(page, "/grid/")


def test_unsaved_readings_are_offered_back(site, grid):
    page = grid(steps=3)
    page.get_by_role("button", name="Add a reading").click()
    type_and_leave(site, page)
    notice = page.locator("[data-grid-notice]")
    assert "were not saved" in notice.inner_text()
    assert value(page, "d-1-1") == ""
    notice.get_by_role("button", name="Restore").click()
    assert (value(page, "d-1-1"), value(page, "d-2-4")) == ("0.31", "0.45")


def test_unsaved_readings_can_be_let_go(site, grid):
    page = grid(steps=3)
    page.get_by_role("button", name="Add a reading").click()
    type_and_leave(site, page)
    page.get_by_role("button", name="Discard").click()
    assert kept(page) is None and value(page, "d-1-1") == ""


def test_saved_readings_are_not_offered_again(site, grid):
    page = grid(steps=3)
    page.locator('[name="d-1-1"]').fill("0.31")
    page.wait_for_timeout(400)
    page.get_by_role("button", name="Save the readings").click()
    page.get_by_text("Saved.").wait_for()
    page.locator("html[data-ready]").wait_for(state="attached")
    assert kept(page) is None


def test_what_the_server_has_by_now_is_not_offered_again(site, grid):
    page = grid(steps=3)
    page.locator('[name="d-1-1"]').fill("0.31")
    page.wait_for_timeout(400)
    page.on("dialog", lambda dialog: dialog.accept())
    site.put(
        "/grid/", GRID, rows=grid_rows(3, {"d-1-1": "0.31"}, 3), replicates=[1, 2, 3], direction="rising"
    )
    site.go(page, "/grid/")
    assert page.locator("[data-grid-notice]").is_hidden() and kept(page) is None


def test_leaving_with_unsaved_readings_is_asked_about_and_saving_is_not(site, grid):
    page = grid(steps=3)
    asked = []
    page.on("dialog", lambda dialog: (asked.append(dialog.type), dialog.accept()))
    page.locator('[name="d-1-1"]').press_sequentially("0.31")
    page.get_by_role("button", name="Save the readings").click()
    page.get_by_text("Saved.").wait_for()
    assert asked == []
    site.go(page, "/grid/")
    page.locator('[name="d-1-1"]').press_sequentially("0.31")
    page.goto(ORIGIN + "/saved/")
    assert asked == ["beforeunload"]


def test_without_script_the_grid_is_a_plain_form(site, grid):
    page = grid(steps=3, java_script_enabled=False)
    assert page.get_by_text("Mean").is_hidden()
    page.locator('[name="d-1-1"]').fill("0.31")
    page.get_by_role("button", name="Add a reading").click()
    page.get_by_text("Saved.").wait_for()
    sent = parse_qs(site.posted[0])
    assert sent["d-1-1"] == ["0.31"] and sent["add_replicate"] == ["1"]


@pytest.mark.parametrize("width", [320, 390])
def test_on_a_phone_every_cell_is_in_view_and_large_enough(grid, width):
    page = grid(viewport={"width": width, "height": 800}, has_touch=True)
    assert page.evaluate("document.documentElement.scrollWidth") == width
    boxes = [each.bounding_box() for each in page.locator("tbody input").all()]
    assert all(box["x"] >= 0 and box["x"] + box["width"] <= width for box in boxes)
    # Target size: at least 24 CSS px each way (WCAG 2.2, 2.5.8); ours are meant for fingers.
    assert min(box["height"] for box in boxes) >= 40 and min(box["width"] for box in boxes) >= 48
