"""A visitor of an open lab reads what is known of a film; a member finds the next step on the bench."""

import pytest

from curves.services.references import appoint_reference
from curves.services.reviews import return_roll
from labsite.accounts.models import Lab
from tests.factories.rolls import (
    make_accepted_roll,
    make_batch,
    make_roll,
    make_run,
    make_standards,
    make_submitted_roll,
)
from tests.journeys.looking import (
    assert_accessible,
    enter_next_page,
    is_as_wide_as_its_window,
    look,
    wait_until_drawn,
    wait_until_mounted,
)

pytestmark = pytest.mark.journey

THEMES = ("light", "dark")


@pytest.fixture
def lab(live_server, admin, owner):
    """An open lab with a reference, a stock a stop faster, and a third."""
    Lab.objects.create(name="Test Lab", is_open_to_visitors=True)
    standards = make_standards(admin)
    run = make_run(owner, standards[0])
    stocks = {}
    for seed, (name, speed_point) in enumerate(
        {"Alder 100": -1.6, "Birch 200": -1.9, "Cedar 50": -1.3}.items()
    ):
        batch = make_batch(owner, name)
        make_accepted_roll(owner, admin, batch, standards, run=run, seed=seed, speed_point=speed_point)
        stocks[name] = batch.stock
    pair = {"process_revision_id": standards[0].pk, "exposure_revision_id": standards[1].pk}
    appoint_reference(actor=admin, stock_id=stocks["Alder 100"].pk, **pair)
    return stocks


def press_on(page, words: str) -> None:
    """Follow a link by keyboard alone: Tab until it has the focus, then Enter."""
    for _ in range(150):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.textContent.trim()") == words:
            enter_next_page(page)
            return
    pytest.fail(f"no link {words!r} is reached by Tab")


def test_a_visitor_reads_a_stocks_sheet_by_keyboard_alone(lab, visitor, page_for):
    page = page_for(visitor)
    page.goto("/")
    wait_until_drawn(page)
    assert page.get_by_role("heading", level=1).inner_text() == "Test Lab"
    assert_accessible(page)
    look(page, "front_light_1280")

    press_on(page, "Birch 200")
    page.wait_for_url("**/stocks/*/")
    wait_until_drawn(page)
    assert "faster" in page.locator("#differences").locator("..").inner_text()
    assert_accessible(page)
    look(page, "stock_light_1280")

    press_on(page, "Contrast index")
    page.wait_for_url("**/measures/#contrast_index")
    target = page.locator("#contrast_index")
    target.wait_for()
    assert target.evaluate("node => node.matches(':target')")
    assert page.locator("figure.plot[data-drawn]").count() == 5
    assert_accessible(page)
    look(page, "measures_light_1280")


@pytest.mark.parametrize("theme", THEMES)
def test_the_pages_fit_a_phone_and_are_accessible_in_both_themes(lab, visitor, page_for, theme):
    page = page_for(visitor, width=390)
    page.emulate_media(color_scheme=theme)
    addresses = [
        "/",
        "/stocks/",
        f"/stocks/{lab['Birch 200'].pk}/",
        "/lab/",
        "/measures/",
        "/safety/",
        "/help/",
        "/help/entering-readings/",
        "/help/backup/",
    ]
    for address in addresses:
        page.goto(address)
        wait_until_mounted(page)
        assert is_as_wide_as_its_window(page), address
        assert_accessible(page)
        look(page, f"{address.strip('/').replace('/', '_') or 'front'}_{theme}_390")


def test_the_list_is_filtered_as_one_types_and_the_address_keeps_it(lab, visitor, page_for):
    page = page_for(visitor)
    page.goto("/stocks/")
    page.get_by_label("Name or maker").fill("birch")
    page.wait_for_url("**q=birch**")
    page.get_by_role("link", name="Alder 100").wait_for(state="detached")
    assert page.get_by_role("link", name="Birch 200").is_visible()
    page.reload()
    assert page.get_by_label("Name or maker").input_value() == "birch"
    assert not page.get_by_role("link", name="Alder 100").is_visible()
    with page.expect_download() as saved:
        page.get_by_role("link", name="Export").click()
    lines = saved.value.path().read_text().splitlines()
    assert len(lines) == 2


@pytest.mark.parametrize("theme", THEMES)
def test_a_member_finds_the_next_step_and_an_admin_what_is_asked(lab, owner, admin, page_for, theme):
    batch = lab["Birch 200"].batches.get()
    roll = batch.rolls.get()
    standards = (roll.process_revision, roll.exposure_revision)
    planned = make_roll(owner, batch, standards)
    returned = make_submitted_roll(owner, batch, standards, seed=5)
    return_roll(actor=admin, roll_id=returned.pk, reasons="Step 4 looks misread.")
    make_submitted_roll(owner, batch, standards, seed=6)

    page = page_for(owner)
    page.emulate_media(color_scheme=theme)
    page.goto("/")
    page.wait_for_url("**/bench/")
    assert page.get_by_text("Step 4 looks misread.").is_visible()
    assert_accessible(page)
    look(page, f"bench_{theme}_1280")
    page.get_by_role("link", name=f"Record the process run ({planned.code})").click()
    page.wait_for_url(f"**/rolls/{planned.pk}/run/")
    page.goto("/stocks/new/")
    assert_accessible(page)

    page = page_for(admin, width=390)
    page.emulate_media(color_scheme=theme)
    for address in ("/bench/", "/lab/", f"/stocks/{batch.stock_id}/batches/new/"):
        page.goto(address)
        wait_until_mounted(page)
        assert is_as_wide_as_its_window(page), address
        assert_accessible(page)
        look(page, f"admin_{address.strip('/').split('/')[0]}_{theme}_390")
