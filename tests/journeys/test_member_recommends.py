"""A member says what a stock is good for, an admin approves it, a visitor finds the stock by it."""

import pytest
from django.urls import reverse

from curves.models import Roll
from labsite.accounts.services import update_lab
from tests.factories.many_stocks import make_many_stocks
from tests.factories.pictures import picture_row
from tests.factories.rolls import make_standards
from tests.journeys.looking import (
    assert_accessible,
    is_as_wide_as_its_window,
    look,
    wait_until_drawn,
    wait_until_mounted,
)

pytestmark = pytest.mark.journey


@pytest.fixture
def stocks(live_server, owner, admin):
    made = make_many_stocks(owner, make_standards(admin), stocks=4, rolls=2)
    for number, stock in enumerate(made[:3]):
        for roll in Roll.objects.filter(batch__stock=stock):
            picture_row(roll, "rms_granularity", 7.0 + 5 * number)
            picture_row(roll, "film_mtf50", 60.0 - 12 * number)
    update_lab(actor=admin, name="Lab", contact="", is_open_to_visitors=True)
    return made


def test_a_verdict_is_written_approved_and_found_by_keyboard(stocks, labmate, admin, visitor, page_for):
    page = page_for(labmate)
    page.goto(reverse("stock", args=[stocks[0].pk]))
    page.get_by_role("link", name="Write a verdict").press("Enter")
    page.get_by_label("portraits").press("Space")
    page.get_by_label("What for").fill("Faces by a window.")
    page.get_by_label("Strengths").fill("Fine grain and an even scale.")
    page.get_by_role("button", name="Send to the queue").press("Enter")
    page.wait_for_url("**/stocks/verdicts/*/")
    assert "waiting for an admin" in page.locator(".page-lead").inner_text()
    assert_accessible(page)

    desk = page_for(admin)
    desk.goto(reverse("review_queue"))
    desk.get_by_role("link", name="Verdicts to decide on").press("Enter")
    assert_accessible(desk)
    look(desk, "verdict_queue_light_1280")
    desk.get_by_role("link", name=stocks[0].name).first.press("Enter")
    desk.get_by_role("button", name="Approve").press("Enter")
    desk.wait_for_url("**/reviews/verdicts/")

    reader = page_for(visitor, width=390)
    reader.emulate_media(color_scheme="dark")
    reader.goto(reverse("stocks_for"))
    reader.get_by_label("portraits").press("Space")
    reader.get_by_label("Grain: RMS granularity").select_option("11")
    reader.get_by_role("button", name="Ask").press("Enter")
    reader.wait_for_url("**/stocks/for/?*purpose=portrait*")
    found = reader.locator("section", has=reader.get_by_role("heading", name="Certainly"))
    assert "Faces by a window." in found.inner_text() and "Lin Matelle" not in found.inner_text()
    assert is_as_wide_as_its_window(reader)
    assert_accessible(reader)
    look(reader, "stocks_for_dark_390")


def test_a_point_of_the_trade_off_ticks_its_stock_and_leads_to_its_curve(stocks, visitor, page_for):
    page = page_for(visitor)
    page.goto("/compare/trade-offs/?plot=sharpness")
    wait_until_drawn(page)
    wait_until_mounted(page)
    assert (
        f"No stock is both finer and sharper than {stocks[0].name}."
        in page.locator(".trade-summary").inner_text()
    )
    row = page.locator("tr", has=page.get_by_role("rowheader", name=stocks[1].name))
    row.get_by_role("checkbox").focus()
    page.locator("tr.is-lit").wait_for()  # the point and its row show each other
    point = page.locator(".scatterlayer .trace .points path").last
    point.click(force=True)
    page.locator("[data-trade-status]", has_text="1 ticked").wait_for(state="attached")
    assert_accessible(page)
    look(page, "trade_off_light_1280")
    page.get_by_text("Limits of the axes").press("Enter")
    page.get_by_label("Top", exact=True).fill("95")
    page.keyboard.press("Enter")
    page.wait_for_url("**top=95")
    page.get_by_role("button", name="Mark the ticked").click()
    page.wait_for_url("**stock=*")
    assert "top=95" in page.url
    wait_until_drawn(page)
    page.get_by_role("button", name="Compare their curves").press("Enter")
    page.wait_for_url("**/compare/?*stocks=*")
    phone = page_for(visitor, width=390)
    phone.emulate_media(color_scheme="dark")
    phone.goto("/compare/trade-offs/")
    wait_until_drawn(phone)
    assert is_as_wide_as_its_window(phone)
    assert_accessible(phone)
