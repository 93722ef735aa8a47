"""A visitor reads a published sheet by keyboard, saves its files, and prints it: one page of A4, always."""

import re

import pytest
from django.urls import reverse

from curves.models import SheetVersion
from labsite.jobs.runner import run_waiting_jobs
from tests.factories.labs import make_stocks, open_lab
from tests.factories.rolls import make_standards
from tests.factories.sheets import full_sheet, with_longest_texts
from tests.journeys.looking import assert_accessible, is_as_wide_as_its_window, look, wait_until_mounted

pytestmark = pytest.mark.journey

PAGE = re.compile(rb"/Type\s*/Page\b(?!s)")
BOX = re.compile(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)\s*\]")
A4_POINTS = (595.3, 841.9)


@pytest.fixture
def sheets(live_server, admin, owner) -> list[SheetVersion]:
    """An ordinary sheet over the reference, the reference's own, and one with all that there can be."""
    open_lab()
    stocks = make_stocks(owner, admin, make_standards(admin))
    run_waiting_jobs()
    newest = [stocks["birch"].sheet_versions.first(), stocks["alder"].sheet_versions.first()]
    return [*newest, full_sheet(newest[0])]


def address(version: SheetVersion) -> str:
    return reverse("stock_sheet_version", args=[version.stock_id, version.pair_key, version.number])


def assert_one_page_of_a4(pdf: bytes) -> None:
    assert len(PAGE.findall(pdf)) == 1
    (width, height), *others = {tuple(float(side) for side in box) for box in BOX.findall(pdf)}
    assert not others
    assert (width, height) == pytest.approx(A4_POINTS, abs=1.0)


def focused(page) -> str:
    return page.evaluate("document.activeElement.textContent.trim()")


def test_a_visitor_reads_saves_and_prints_a_sheet(sheets, visitor, page_for):
    page = page_for(visitor)
    ordinary, _, full = sheets
    page.goto(address(ordinary))
    wait_until_mounted(page)
    assert page.get_by_text("A newer version is published").is_visible()
    for wanted in ("Print or save as PDF", "XLSX", "Figure, PNG"):
        for _ in range(60):
            page.keyboard.press("Tab")
            if focused(page) == wanted:
                break
        assert focused(page) == wanted, f"{wanted} is reached by keyboard"
    with page.expect_download() as saved:
        page.keyboard.press("Enter")
    assert saved.value.path().read_bytes().startswith(b"\x89PNG")
    assert_accessible(page)
    look(page, "sheet_light_1280")

    page.get_by_role("link", name=f"Read version {full.number}").press("Enter")
    page.wait_for_url(f"**{address(full)}")
    assert page.get_by_role("heading", level=1).inner_text() == full.content["stock"]["name"]
    for version in sheets:
        page.goto(address(version))
        wait_until_mounted(page)
        assert_one_page_of_a4(page.pdf(prefer_css_page_size=True))


def test_texts_as_long_as_they_may_be_stay_on_one_page_and_say_where_they_are_cut(sheets, visitor, page_for):
    version = with_longest_texts(sheets[0])
    page = page_for(visitor)
    page.goto(address(version))
    wait_until_mounted(page)
    cautions = page.locator(".sheet-foot p").first
    assert version.content["process"]["cautions"] in cautions.inner_text(), "whole on the screen"
    assert_one_page_of_a4(page.pdf(prefer_css_page_size=True))
    page.emulate_media(media="print")
    assert "(cut on paper; in full on the site)" in cautions.inner_text()
    # Content wider than the paper would make the browser shrink the whole page.
    page.set_viewport_size({"width": 710, "height": 1000})  # what 188 mm are at 96 pixels an inch
    assert is_as_wide_as_its_window(page)


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_the_sheet_fits_a_phone(sheets, visitor, page_for, theme):
    page = page_for(visitor, width=390)
    page.emulate_media(color_scheme=theme)
    for name, version in (("full", sheets[2]), ("reference", sheets[1])):
        page.goto(address(version))
        wait_until_mounted(page)
        assert is_as_wide_as_its_window(page)
        assert_accessible(page)
        look(page, f"sheet_{name}_{theme}_390")
