"""Cost of a frame in lists: the newest price of the cheapest form, in order, filtered, or missing."""

import csv
import io
import re
from datetime import date
from decimal import Decimal

import pytest
from django.urls import reverse

from curves.queries.frame_costs import frame_costs
from curves.services.prices import enter_price, strike_price
from tests.factories.results import appoint, standing_result
from tests.factories.rolls import make_standards

SAID = "Costs in USD are shown as they were entered, not converted: in order and filters only costs in EUR"
NAMES = ("Alder 100", "Birch 100", "Cedar 100", "Dogwood 100")


@pytest.fixture
def stocks(owner, admin):
    """Four stocks with results: Alder dear by the pack and cheap in bulk, Birch between, Cedar in another
    currency, Dogwood without a price."""
    standards = make_standards(admin)
    results = [standing_result(owner, *standards, name=name) for name in NAMES]
    appoint(admin, results[3])
    made = {result.stock.name: result.stock for result in results}
    pay(owner, made["Alder 100"], "10.80")  # 0.300 a frame
    bulk = {"kind": "bulk", "length_m": Decimal(30), "frames_per_metre": Decimal(26), "loss_m": Decimal(0)}
    pay(owner, made["Alder 100"], "75.60", **bulk)  # 21 rolls of 36 frames: 0.100 a frame
    pay(owner, made["Birch 100"], "7.20")  # 0.200
    pay(owner, made["Cedar 100"], "3.60", currency="USD")
    return made


def pay(owner, stock, price, **values):
    given = {
        "kind": "pack",
        "film_format": "35 mm",
        "currency": "EUR",
        "priced_on": date(2026, 5, 4),
        "source": "mail order",
        "frames_per_roll": 36,
    }
    return enter_price(actor=owner, stock_id=stock.pk, price=Decimal(price), **given | values)


def names_in(text: str) -> list[str]:
    """The stocks of a table in their order."""
    return [name for name in re.findall(r'scope="row">.*?(\w+ 100)', text, re.DOTALL) if name in NAMES]


def test_the_newest_price_of_the_cheapest_form_counts(stocks, owner):
    costs = frame_costs()
    assert costs.currency == "EUR"
    found = {name: costs.by_stock.get(stock.pk) for name, stock in stocks.items()}
    assert found["Alder 100"].text == "0.100" and found["Alder 100"].cheapest.kind == "bulk"
    assert [str(price.cost_per_frame) for price in found["Alder 100"].others] == ["0.3000"]
    assert found["Dogwood 100"] is None
    assert set(costs.comparable) == {stocks["Alder 100"].pk, stocks["Birch 100"].pk}
    newer = pay(owner, stocks["Birch 100"], "9.00", priced_on=date(2026, 6, 1))
    birch = stocks["Birch 100"].pk
    assert frame_costs([birch]).by_stock[birch].text == "0.250", "a newer price takes the older one's place"
    strike_price(actor=owner, stock_id=birch, price_id=newer.pk, reason="other shop")
    assert frame_costs([birch]).by_stock[birch].text == "0.200"


def test_one_format_can_be_asked_for_and_the_queries_do_not_grow(stocks, owner, django_assert_num_queries):
    pay(owner, stocks["Birch 100"], "1.20", film_format="120", frames_per_roll=12)
    with django_assert_num_queries(1):
        assert frame_costs(film_format="35 MM").by_stock[stocks["Birch 100"].pk].text == "0.200"
    assert frame_costs().by_stock[stocks["Birch 100"].pk].text == "0.100"


def test_the_list_of_stocks_shows_orders_and_filters_by_cost(stocks, owner, client_for):
    client = client_for(owner)
    page = client.get(reverse("stock_list")).text
    assert "0.100" in page and "EUR, bulk roll, 35 mm, 2026-05" in page and "0.300 by rolls" in page
    assert page.count(">no price<") == 1
    for query in ({}, {"sort": "cost"}, {"cost": "0,15"}, {"cost": "0,01"}):
        # Where the filter leaves out what is priced in dollars, it matters most.
        assert SAID in client.get(reverse("stock_list"), query).text, query
    assert SAID not in client.get(reverse("stock_list"), {"q": "Alder"}).text
    rising = names_in(client.get(reverse("stock_list"), {"sort": "cost"}).text)
    assert rising == ["Alder 100", "Birch 100", "Cedar 100", "Dogwood 100"], "unknown ones last"
    falling = names_in(client.get(reverse("stock_list"), {"sort": "-cost"}).text)
    assert falling[:2] == ["Birch 100", "Alder 100"] and set(falling[2:]) == {"Cedar 100", "Dogwood 100"}
    assert names_in(client.get(reverse("stock_list"), {"cost": "0,15"}).text) == ["Alder 100"]
    rows = csv.DictReader(io.StringIO(client.get(reverse("stock_list"), {"export": "csv"}).text))
    told = {row["stock"]: (row["cost_per_frame"], row["cost_currency"]) for row in rows}
    assert told["Cedar 100"] == ("0.1", "USD") and told["Dogwood 100"] == ("", "")


def test_the_comparison_shows_orders_and_filters_by_cost(stocks, owner, client_for):
    client = client_for(owner)
    page = client.get(reverse("compare"), {"columns": "frame_cost"}).text
    assert "EUR, bulk roll, 35 mm, 2026-05" in page and page.count("no price entered") == 1
    view = client.get(reverse("compare"), {"sort": "-frame_cost"}).context["rows"]
    # The reference stands first whatever the order.
    assert [row.stock.stock.name for row in view][:3] == ["Dogwood 100", "Birch 100", "Alder 100"]
    answer = client.get(reverse("compare"), {"cost_to": "0.15"})
    rows = answer.context["rows"]
    assert SAID in answer.text and SAID in page
    assert "In EUR; other currencies are left out." in answer.text
    assert [row.stock.stock.name for row in rows] == ["Dogwood 100", "Alder 100"]


def test_prices_change_no_comparison_s_file(stocks, owner, client_for):
    """A frozen table is the same bytes for ever, so what shops ask is not in it."""
    client = client_for(owner)
    before = client.get("/compare/data.csv").content
    pay(owner, stocks["Dogwood 100"], "5.00")
    assert client.get("/compare/data.csv").content == before
