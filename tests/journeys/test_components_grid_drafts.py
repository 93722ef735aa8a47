"""Nothing that is typed into the readings grid is lost: kept, offered back, let go once it is saved."""

import json

import pytest

from tests.journeys.component_grid import GRID, grid_rows, open_grid, value
from tests.journeys.component_site import ORIGIN, ComponentSite
from tests.journeys.looking import wait_until, wait_until_mounted

pytestmark = pytest.mark.journey


@pytest.fixture
def site(chromium):
    site = ComponentSite(chromium)
    yield site
    site.close()


def kept(page):
    return json.loads(page.evaluate("localStorage.getItem('readings:roll-12')") or "null")


def type_and_leave(site, page):
    """Type two readings, wait until they are kept, and come back to the grid as the server has it."""
    page.locator('[name="d-1-1"]').fill("0.31")
    page.locator('[name="d-2-4"]').fill("0.45")
    wait_until(page, lambda: "d-2-4" in (kept(page) or {"values": {}})["values"])
    assert kept(page)["values"]["d-2-4"] == "0.45"
    page.on("dialog", lambda dialog: dialog.accept())
    site.go(page, "/grid/")


def test_unsaved_readings_are_offered_back(site):
    page = open_grid(site, steps=3)
    page.get_by_role("button", name="Add a reading").click()
    type_and_leave(site, page)
    notice = page.locator("[data-grid-notice]")
    assert "were not saved" in notice.inner_text()
    assert value(page, "d-1-1") == ""
    notice.get_by_role("button", name="Restore").click()
    assert (value(page, "d-1-1"), value(page, "d-2-4")) == ("0.31", "0.45")


def test_unsaved_readings_can_be_let_go(site):
    page = open_grid(site, steps=3)
    page.get_by_role("button", name="Add a reading").click()
    type_and_leave(site, page)
    page.get_by_role("button", name="Discard").click()
    assert kept(page) is None and value(page, "d-1-1") == ""


def test_saved_readings_are_not_offered_again(site):
    page = open_grid(site, steps=3)
    page.locator('[name="d-1-1"]').fill("0.31")
    wait_until(page, lambda: kept(page))
    page.get_by_role("button", name="Save the readings").click()
    page.get_by_text("Saved.").wait_for()
    wait_until_mounted(page)
    assert kept(page) is None


def test_what_the_server_has_by_now_is_not_offered_again(site):
    page = open_grid(site, steps=3)
    page.locator('[name="d-1-1"]').fill("0.31")
    wait_until(page, lambda: kept(page))
    page.on("dialog", lambda dialog: dialog.accept())
    site.put(
        "/grid/", GRID, rows=grid_rows(3, {"d-1-1": "0.31"}, 3), replicates=[1, 2, 3], direction="rising"
    )
    site.go(page, "/grid/")
    assert page.locator("[data-grid-notice]").is_hidden() and kept(page) is None


def test_leaving_with_unsaved_readings_is_asked_about_and_saving_is_not(site):
    page = open_grid(site, steps=3)
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
