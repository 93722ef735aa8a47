"""The readings grid by keyboard: typed, pasted, without script and on a phone."""

from urllib.parse import parse_qs

import pytest

from tests.journeys.component_grid import STEPS, focused, note, open_grid, paste, value
from tests.journeys.component_site import ComponentSite

pytestmark = pytest.mark.journey


@pytest.fixture
def site(chromium):
    site = ComponentSite(chromium)
    yield site
    site.close()


def test_a_whole_strip_is_typed_with_digits_and_enter_only(site):
    page = open_grid(site)
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


def test_keys_move_between_cells(site):
    page = open_grid(site, steps=3)
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


def test_arrows_move_inside_a_text_before_they_leave_the_cell(site):
    page = open_grid(site, steps=3, values={"d-1-1": "0.52"})
    page.locator('[name="d-1-1"]').focus()
    page.keyboard.press("End")
    page.keyboard.press("ArrowLeft")
    assert focused(page) == "d-1-1"
    page.keyboard.press("End")
    page.keyboard.press("ArrowRight")
    assert focused(page) == "d-1-2"


def test_typing_replaces_what_stood_in_the_cell(site):
    page = open_grid(site, steps=3, values={"d-1-1": "0.52"})
    page.locator('[name="d-unexposed-1"]').focus()
    page.keyboard.press("Enter")
    page.keyboard.type("0.61")
    assert value(page, "d-1-1") == "0.61"


def test_another_reading_a_step_can_be_added(site):
    page = open_grid(site, replicates=2, steps=3)
    page.get_by_role("button", name="Add a reading").click()
    assert focused(page) == "d-unexposed-3"
    assert page.locator('[name="d-3-3"]').get_attribute("aria-label") == "Step 3, reading 3"
    assert page.locator("th[data-replicate]").all_inner_texts() == ["Reading 1", "Reading 2", "Reading 3"]


# --- Pasting


def test_a_pasted_column_fills_downwards_and_can_be_taken_back(site):
    page = open_grid(site, values={"d-2-1": "0.99"})
    page.locator('[name="d-1-1"]').focus()
    paste(page, "0.31\r\n0,42\r\n0.53\r\n")
    assert [value(page, f"d-{step}-1") for step in (1, 2, 3, 4)] == ["0.31", "0,42", "0.53", ""]
    notice = page.locator("[data-grid-notice]")
    assert "Pasted 3 values." in notice.inner_text()
    notice.get_by_role("button", name="Undo").click()
    assert [value(page, f"d-{step}-1") for step in (1, 2, 3)] == ["", "0.99", ""]
    assert notice.is_hidden()


def test_ctrl_z_takes_a_paste_back_until_something_is_typed(site):
    page = open_grid(site, steps=4)
    page.locator('[name="d-1-1"]').focus()
    paste(page, "0.3\n0.4")
    page.keyboard.press("Control+z")
    assert [value(page, f"d-{step}-1") for step in (1, 2)] == ["", ""]
    paste(page, "0.3\n0.4")
    page.keyboard.type("0.35")
    page.keyboard.press("Control+z")
    assert value(page, "d-2-1") == "0.4"


def test_a_pasted_block_adds_columns_and_says_what_found_no_cell(site):
    page = open_grid(site, replicates=1, steps=3)
    page.locator('[name="d-2-1"]').focus()
    paste(page, "0.4\t0.5\n0.6\t0.7\n0.8\t0.9")
    assert [value(page, name) for name in ("d-2-1", "d-2-2", "d-3-1", "d-3-2")] == [
        "0.4",
        "0.5",
        "0.6",
        "0.7",
    ]
    assert "2 found no cell and were left out" in page.locator("[data-grid-notice]").inner_text()


def test_pasted_words_are_kept_and_marked_rather_than_dropped(site):
    page = open_grid(site, steps=3)
    page.locator('[name="d-1-1"]').focus()
    paste(page, "Density\n0.42")
    assert value(page, "d-1-1") == "Density" and "“Density” is not a number" in note(page, 1)


# --- Without script, and on a phone


def test_without_script_the_grid_is_a_plain_form(site):
    page = open_grid(site, steps=3, java_script_enabled=False)
    assert page.get_by_text("Mean").is_hidden()
    page.locator('[name="d-1-1"]').fill("0.31")
    page.get_by_role("button", name="Add a reading").click()
    page.get_by_text("Saved.").wait_for()
    sent = parse_qs(site.posted[0])
    assert sent["d-1-1"] == ["0.31"] and sent["add_replicate"] == ["1"]


@pytest.mark.parametrize("width", [320, 390])
def test_on_a_phone_every_cell_is_in_view_and_large_enough(site, width):
    page = open_grid(site, viewport={"width": width, "height": 800}, has_touch=True)
    assert page.evaluate("document.documentElement.scrollWidth") == width
    boxes = [each.bounding_box() for each in page.locator("tbody input").all()]
    assert all(box["x"] >= 0 and box["x"] + box["width"] <= width for box in boxes)
    # Target size: at least 24 CSS px each way (WCAG 2.2, 2.5.8); ours are meant for fingers.
    assert min(box["height"] for box in boxes) >= 40 and min(box["width"] for box in boxes) >= 48
