"""Grain against speed and sharpness against grain: who is in the running, what is said, where it leads."""

import json

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from curves.models import Roll
from tests.factories.many_stocks import make_many_stocks
from tests.factories.pictures import picture_row
from tests.factories.rolls import make_standards

GRAIN, SHARP = "rms_granularity", "film_mtf50"
PAGE = "/compare/trade-offs/"


@pytest.fixture
def stocks(owner, admin):
    made = make_many_stocks(owner, make_standards(admin), stocks=6, rolls=2)
    # The first is far finer and sharper than the second to fourth; the fifth only by another rig.
    for number, stock in enumerate(made[:4]):
        for roll in Roll.objects.filter(batch__stock=stock):
            picture_row(roll, GRAIN, 6.0 if number == 0 else 14.0 + number)
            picture_row(roll, SHARP, 90.0 if number == 0 else 40.0)
    picture_row(Roll.objects.filter(batch__stock=made[4]).first(), GRAIN, 3.0, rig="b" * 64)
    return made


def rows(page):
    return {row.stock.name: row for row in page.context["rows"]}


def test_what_none_betters_is_said_and_another_rig_is_not_in_the_running(stocks, owner, client_for):
    page = client_for(owner).get(f"{PAGE}?plot=sharpness")
    found = rows(page)
    best, beaten = found[stocks[0].name], found[stocks[1].name]
    assert (best.verdict, beaten.verdict) == ("not bettered", "bettered")
    assert page.context["summary"] == (
        f"No stock is both finer and sharper than {stocks[0].name}. 3 are bettered in both for certain."
    )
    page = client_for(owner).get(PAGE)
    apart, missing = rows(page)[stocks[4].name], rows(page)[stocks[5].name]
    assert apart.verdict == "by another rig" and apart.stock.verdict == ""
    assert not missing.stock.is_drawn and missing.stock.up.reason == "NOT_MEASURED"
    assert page.context["view"].missing == (missing.stock,)
    text = page.content.decode()
    assert "Flatbed b" in text and text.count("<tr data-curve") == 6


def test_the_address_carries_plot_standards_and_ticked_stocks(stocks, owner, client_for):
    client = client_for(owner)
    ticked = [stocks[3].pk, stocks[1].pk]
    page = client.get(PAGE, {"plot": "sharpness", "stock": ticked, "order": str(stocks[3].pk)})
    link = page.context["permalink"]
    assert f"plot=sharpness&stocks={ticked[0]}.{ticked[1]}" in link
    again = client.get(link.removeprefix("http://testserver"))
    assert [(row.ink, row.is_chosen) for row in again.context["rows"]] == [
        (row.ink, row.is_chosen) for row in page.context["rows"]
    ]
    inks = {t["name"]: t["meta"].get("ink") for t in again.context["figure"]["data"] if "key" in t["meta"]}
    assert inks[stocks[3].name] == 0
    assert 'formaction="/compare/side-by-side/"' in page.content.decode()


def test_limits_of_the_axes_stand_in_the_address_and_belong_to_their_plot(stocks, owner, client_for):
    client = client_for(owner)
    page = client.get(f"{PAGE}?left=5&top=20")
    assert page.context["permalink"].endswith("?left=5&top=20")
    assert 'name="left" value="5" inputmode' in page.text and "Limits that are not used" not in page.text
    assert all("left" not in tab["url"] for tab in page.context["tabs"]), "another plot has other axes"
    assert client.get(f"{PAGE}?left=5&drawn=speed").context["selection"].limits.left == 5
    assert client.get(f"{PAGE}?left=5&drawn=speed&plot=sharpness").context["selection"].limits.left is None
    # The speed axis is logarithmic.
    zero = client.get(f"{PAGE}?left=0&bottom=0")
    assert "Left 0: this axis has no place for zero or less." in zero.text
    assert zero.context["permalink"].endswith("?bottom=0")
    # A comparison's own limits are left behind on the way here, and these on the way there.
    compared = client.get("/compare/?left=-2").text
    assert 'href="/compare/trade-offs/?"' in compared and "compare/saved/new/?left=-2" in compared
    assert client.get("/compare/?left=-2&drawn=speed&order=").url == "/compare/?"


def test_without_pictures_the_page_says_how_they_come(owner, admin, client_for):
    make_many_stocks(owner, make_standards(admin), stocks=2, rolls=1)
    page = client_for(owner).get(PAGE)
    assert page.context["figure"] is None
    assert "No stock has both measures yet" in page.content.decode()


def test_the_whole_lab_takes_as_many_queries_as_one_stock(stocks, owner, client_for):
    client = client_for(owner)
    with CaptureQueriesContext(connection) as queries:
        client.get(PAGE)
    assert len(queries) <= 9, "\n".join(each["sql"][:120] for each in queries)


def test_the_api_answers_what_the_page_shows(stocks, owner, client_for):
    answer = client_for(owner).get("/api/v1/trade-offs/", {"plot": "sharpness"}).json()
    by_name = {each["stock"]["name"]: each for each in answer["stocks"]}
    assert by_name[stocks[0].name]["verdict"] == "on" and by_name[stocks[1].name]["verdict"] == "off"
    assert by_name[stocks[0].name]["across"]["value"] == pytest.approx(6.0)
    assert answer["frontier"] and json.dumps(answer)


def test_a_stock_s_frames_are_found_by_the_stock(stocks, owner, client_for):
    answer = client_for(owner).get("/compare/side-by-side/", {"stock": stocks[0].pk}, follow=True)
    assert f"No frame is scanned yet of {stocks[0].name}" in answer.content.decode()
