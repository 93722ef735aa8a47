"""A member tests a roll: typed by keyboard alone, pasted from a spreadsheet, or sent as a file."""

import pytest
from django.urls import reverse

from curves.models import UNEXPOSED_STEP, Reading, Roll, RollState
from curves.services.rolls import assign_run
from tests.factories.rolls import (
    make_batch,
    make_read_roll,
    make_roll,
    make_run,
    make_standards,
    reading_values,
)
from tests.journeys.looking import (
    assert_accessible,
    enter_next_page,
    is_as_wide_as_its_window,
    look,
    wait_until,
    wait_until_drawn,
    wait_until_mounted,
)

pytestmark = pytest.mark.journey

MOST_TABS = 120
PASTE = """text => {
  const data = new DataTransfer();
  data.setData("text/plain", text);
  const event = new ClipboardEvent("paste", {clipboardData: data, bubbles: true, cancelable: true});
  document.activeElement.dispatchEvent(event);
}"""


@pytest.fixture
def standards(admin):
    return make_standards(admin)


@pytest.fixture
def roll(owner, standards):
    """A planned roll with its run."""
    roll = make_roll(owner, make_batch(owner), standards)
    return assign_run(actor=owner, roll_id=roll.pk, run_id=make_run(owner, standards[0]).pk)


@pytest.fixture
def read_roll(owner, standards):
    """A fitted draft; made before any runner takes its job."""
    return make_read_roll(owner, make_batch(owner), standards)


@pytest.fixture
def open_page(chromium, live_server, client_for):
    """``open_page(user)``: like ``page_for``, but refusals (status 400) are part of the story."""
    contexts, faults = [], []

    def make(user):
        context = chromium.new_context(base_url=live_server.url, viewport={"width": 1280, "height": 900})
        contexts.append(context)
        session = client_for(user).cookies["sessionid"].value
        context.add_cookies([{"name": "sessionid", "value": session, "url": live_server.url}])
        page = context.new_page()
        page.on("pageerror", lambda error: faults.append(str(error)))
        return page

    yield make
    for context in contexts:
        context.close()
    assert not faults, "\n".join(faults)


def tab_to(page, wanted):
    """Press Tab until the focus is on the wanted element, as somebody without a mouse would."""
    for _ in range(MOST_TABS):
        page.keyboard.press("Tab")
        if wanted.evaluate("element => element === document.activeElement"):
            return
    raise AssertionError(f"Tab does not lead to {wanted}")


def press(page, role, name):
    """Follow a link or press a button by keyboard, and wait for the page that follows."""
    tab_to(page, page.get_by_role(role, name=name, exact=True))
    enter_next_page(page)


def typed_cells(roll) -> dict:
    """What a member would read: cell name → text, two readings of every step and of base plus fog."""
    cells = {}
    for value in reading_values(roll):
        if value.replicate <= 2:
            name = "unexposed" if value.step == UNEXPOSED_STEP else value.step
            cells[f"d-{name}-{value.replicate}"] = f"{value.density:.2f}"
    return cells


def test_from_the_plan_to_the_submission_by_keyboard_alone(page_for, job_runner, owner, standards):
    batch = make_batch(owner)
    page = page_for(owner)
    page.goto(f"{reverse('roll_plan')}?stock={batch.stock_id}")
    wait_until_mounted(page)
    press(page, "button", "Plan the roll")
    roll = Roll.objects.get()

    press(page, "link", "Record the run")
    tab_to(page, page.get_by_label("Temperature at the start"))
    page.keyboard.type("20,1")
    tab_to(page, page.get_by_label("Developing time"))
    page.keyboard.type("8:30")
    press(page, "button", "Record the run")

    press(page, "link", "Enter the readings")
    cells = typed_cells(roll)
    tab_to(page, page.locator('[name="d-unexposed-1"]'))
    for replicate in (1, 2):
        for step in ("unexposed", *range(1, 22)):
            # Step 10 is read wrongly at first: as if the row below had been read.
            page.keyboard.type("0.30" if step == 10 else cells[f"d-{step}-{replicate}"])
            page.keyboard.press("Enter")
    assert "yet reads" in page.locator("#note-10").inner_text()
    look(page, "readings-falling-step")
    for _ in range(11):
        page.keyboard.press("ArrowUp")
    page.keyboard.type(cells["d-10-2"])
    page.keyboard.press("Home")
    page.keyboard.press("ArrowLeft")
    assert page.evaluate("document.activeElement.name") == "d-10-1"
    page.keyboard.type(cells["d-10-1"])
    assert page.locator("#note-10").inner_text() == ""

    press(page, "button", "Save the readings")
    assert page.url.endswith(reverse("roll", args=[roll.pk]))
    # Nothing is pressed: the page asks how far the job is, and shows the curve when it is done.
    wait_until_drawn(page)
    expected = {name: float(text) for name, text in cells.items()}
    stored = {
        f"d-{'unexposed' if r.is_unexposed else r.step}-{r.replicate}": r.density
        for r in Reading.objects.filter(is_current=True)
    }
    assert stored == expected
    page.get_by_role("heading", name="Next: look at the curve, then submit the roll").wait_for()
    assert page.evaluate("Object.keys(localStorage).length") == 0, "the browser let go of what it kept"
    look(page, "roll-fitted")

    press(page, "button", "Submit for review")
    page.get_by_role("heading", name="Waiting for an admin's review").wait_for()
    roll.refresh_from_db()
    assert roll.state == RollState.SUBMITTED


def test_a_block_from_a_spreadsheet_is_pasted(page_for, job_runner, owner, roll):
    page = page_for(owner)
    page.goto(reverse("roll_readings", args=[roll.pk, 1]))
    wait_until_mounted(page)
    cells = typed_cells(roll)
    steps = ("unexposed", *range(1, 22))
    lines = [[cells[f"d-{step}-{replicate}"] for replicate in (1, 2)] + ["0.30"] for step in steps]
    page.locator('[name="d-unexposed-1"]').focus()
    page.evaluate(PASTE, "\n".join("\t".join(line) for line in lines).replace(".", ","))
    # The block is three wide: the grid grew a column, and one keystroke would take all of it back.
    page.get_by_text("Pasted 66 values.").wait_for()
    page.get_by_role("button", name="Undo").click()
    assert page.locator('[name="d-21-2"]').input_value() == ""
    page.locator('[name="d-unexposed-1"]').focus()
    page.evaluate(PASTE, "\n".join("\t".join(line[:2]) for line in lines).replace(".", ","))
    look(page, "readings-pasted")
    page.get_by_role("button", name="Save the readings").click()
    wait_until_drawn(page)
    assert Reading.objects.filter(is_current=True).count() == 44
    assert Reading.objects.get(step=7, replicate=2).density == float(cells["d-7-2"])


def test_what_was_typed_survives_a_closed_page_and_a_correction_asks_why(
    page_for, read_roll, job_runner, owner
):
    page = page_for(owner)
    grid = reverse("roll_readings", args=[read_roll.pk, 1])
    page.goto(grid)
    wait_until_mounted(page)
    reason = page.get_by_label("Why saved readings change")
    assert not reason.is_visible(), "nothing has changed yet"
    page.locator('[name="d-5-1"]').fill("1.11")
    assert reason.is_visible()
    is_kept = "Object.values(localStorage).some((text) => text.includes('1.11'))"
    wait_until(page, lambda: page.evaluate(is_kept))
    page.once("dialog", lambda leaving: leaving.accept())  # the browser asks whether to leave
    page.goto(grid)
    wait_until_mounted(page)
    page.get_by_role("button", name="Restore them").click()
    assert page.locator('[name="d-5-1"]').input_value() == "1.11"
    reason.fill("digits swapped")
    page.get_by_role("button", name="Save the readings").click()
    page.get_by_text("Digits swapped").wait_for()
    assert Reading.objects.get(is_current=False).ended_reason == "digits swapped"


def test_a_file_with_faults_then_without(open_page, job_runner, owner, roll):
    page = open_page(owner)
    page.goto(reverse("roll_import", args=[roll.pk, 1]))
    wait_until_mounted(page)
    cells = typed_cells(roll)
    lines = ["step;density_1;density_2;unexposed"]
    for step in ("unexposed", *range(1, 22)):
        name, mark = ("", "1") if step == "unexposed" else (step, "")
        lines.append(f"{name};{cells[f'd-{step}-1']};{cells[f'd-{step}-2']};{mark}".replace(".", ","))
    good = "\n".join(lines)
    bad = good.replace(lines[5], lines[5].replace(",", ",l", 1)).replace("\n9;", "\n99;")

    def send(content):
        file = {"name": "strip.csv", "mimeType": "text/csv", "buffer": content.encode()}
        page.get_by_label("File", exact=True).set_input_files(file)
        with page.expect_navigation():
            page.get_by_role("button", name="Read the file").click()
        wait_until_mounted(page)

    send(bad)
    faults = page.get_by_role("region", name="Faults of the file").locator("tbody tr")
    assert faults.count() == 2
    assert "density_1" in faults.nth(0).inner_text() and "99" in faults.nth(1).inner_text()
    assert_accessible(page)
    look(page, "import-faults")
    send(good)
    page.get_by_role("heading", name="Preview of strip.csv").wait_for()
    assert not Reading.objects.exists()
    assert_accessible(page)
    look(page, "import-preview")
    page.get_by_role("button", name="Store these readings").click()
    wait_until_drawn(page)
    assert Reading.objects.filter(is_current=True).count() == 44


@pytest.mark.parametrize("width", [390, 1280])
@pytest.mark.parametrize("theme", ["light", "dark"])
def test_the_pages_are_accessible_in_either_theme_and_width(
    page_for, live_server, owner, standards, theme, width
):
    batch = make_batch(owner)
    roll = make_read_roll(owner, batch, standards)
    planned = make_roll(owner, batch, standards)
    page = page_for(owner, width=width)
    page.context.add_cookies([{"name": "theme", "value": theme, "url": live_server.url}])
    paths = [
        reverse("roll_list"),
        reverse("roll_plan"),
        reverse("roll", args=[planned.pk]),
        reverse("roll_run", args=[planned.pk]),
        reverse("roll_edit", args=[planned.pk]),
        reverse("roll_readings", args=[roll.pk, 1]),
        reverse("roll_import", args=[roll.pk, 1]),
        reverse("roll", args=[roll.pk]),
    ]
    for path in paths:
        page.goto(path)
        wait_until_mounted(page)
        if page.locator("figure.plot").count():
            wait_until_drawn(page)
        assert page.locator(f'html[data-theme="{theme}"]').count() == 1
        assert_accessible(page)
        assert is_as_wide_as_its_window(page), path
    look(page, f"roll-{theme}-{width}")
