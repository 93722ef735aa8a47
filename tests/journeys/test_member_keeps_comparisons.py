"""A member saves and freezes a comparison, and a visitor reads the frozen one; relatives are found."""

import re

import pytest

from curves.models import FilmStock
from labsite.accounts.models import User
from tests.journeys.looking import (
    assert_accessible,
    is_as_wide_as_its_window,
    look,
    wait_until_drawn,
    wait_until_mounted,
)

pytestmark = pytest.mark.journey


def two_stocks() -> str:
    """A fast and a slow stock as the address names them; numbers depend on the tests before."""
    names = ("Wrensfell 400", "Corvale Ortho 40")
    return ".".join(str(FilmStock.objects.get(name=name).pk) for name in names)


def test_a_comparison_is_saved_frozen_and_read_by_a_visitor(demo_lab, visitor, page_for):
    page = page_for(User.objects.get(username="bram"))
    stocks = two_stocks()
    page.goto(f"/compare/?stocks={stocks}")
    wait_until_drawn(page)
    page.get_by_role("link", name="Save", exact=True).click()
    page.get_by_label("Name").fill("Fast and slow")
    page.keyboard.press("Enter")
    page.wait_for_url(f"**/compare/?stocks={stocks}")
    page.get_by_role("link", name="Freeze").click()
    page.get_by_label("Title").fill("Fast and slow, autumn")
    page.get_by_role("button", name="Freeze").click()
    page.wait_for_url("**/compare/frozen/*/")
    assert_accessible(page)
    look(page, "frozen_light_1280")
    frozen = page.url
    # On paper along its long side, 1009 px between the margins, no column is cut off.
    page.set_viewport_size({"width": 1009, "height": 680})
    page.emulate_media(media="print")
    ends = "[...document.querySelectorAll('.frozen-table')].map(e => e.getBoundingClientRect().right)"
    assert len(page.evaluate(ends)) == 2 and max(page.evaluate(ends)) <= 1009
    page.emulate_media(media="screen")
    page.set_viewport_size({"width": 1280, "height": 800})
    page.goto("/compare/saved/")
    assert page.get_by_role("link", name="Fast and slow", exact=True).count() == 1
    assert_accessible(page)
    look(page, "kept_light_1280")

    reader = page_for(visitor, width=390)
    reader.emulate_media(color_scheme="dark")
    reader.goto(frozen)
    assert is_as_wide_as_its_window(reader)
    with reader.expect_download() as saved:
        reader.get_by_role("link", name="CSV").click()
    assert saved.value.path().read_text().startswith("stock,maker")
    look(reader, "frozen_dark_390")


def test_panels_are_read_and_opened_by_keyboard(demo_lab, visitor, page_for):
    page = page_for(visitor)
    page.goto("/compare/?view=panels&align=speed_point&density=net")
    panels = page.locator(".stock-panel")
    assert panels.count() == 25
    assert_accessible(page)
    look(page, "panels_light_1280")
    wait_until_mounted(page)
    panels.nth(3).focus()
    lit = page.locator("tr.is-lit th")
    lit.wait_for()
    assert "Cordwain 100" in lit.inner_text(), "a panel in focus lights its row"
    page.keyboard.press("Enter")
    page.wait_for_url("**/stocks/**")
    phone = page_for(visitor, width=390)
    phone.emulate_media(color_scheme="dark")
    phone.goto("/compare/?view=panels&align=contrast&density=net")
    assert is_as_wide_as_its_window(phone)
    assert_accessible(phone)
    look(phone, "panels_dark_390")


def test_what_is_pinned_goes_into_the_address_and_comes_back(demo_lab, visitor, page_for):
    page = page_for(visitor)
    stocks = two_stocks()
    first = stocks.split(".")[0]
    page.goto(f"/compare/?stocks={stocks}")
    wait_until_drawn(page)
    wait_until_mounted(page)
    page.locator("[data-curve-options]").focus()
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Space")
    page.wait_for_url(re.compile(f"[?&]pin={first}"))
    again = page_for(visitor)
    again.goto(page.url)
    wait_until_drawn(again)
    again.locator("[data-curve-options] [aria-selected=true]").wait_for()
    assert again.locator("[data-curve-options] [aria-selected=true]").count() == 1


def test_the_rebadged_film_is_found_on_the_map(demo_lab, visitor, page_for):
    page = page_for(visitor)
    page.goto("/compare/relatives/")
    wait_until_drawn(page)
    same = page.locator("section", has=page.get_by_role("heading", name="Could be the same emulsion"))
    assert "Cordwain 100 and Skylark 100" in " ".join(same.inner_text().split())
    assert_accessible(page)
    look(page, "relatives_light_1280")
    phone = page_for(visitor, width=390)
    phone.emulate_media(color_scheme="dark")
    phone.goto(f"/stocks/{FilmStock.objects.get(name='Cordwain 100').pk}/relatives/")
    assert is_as_wide_as_its_window(phone)
    assert_accessible(phone)
    assert "could be the same emulsion" in phone.locator("table").inner_text()
    look(phone, "stock_relatives_dark_390")
