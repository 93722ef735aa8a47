"""Prices: what a frame costs, what is refused, what is struck out; and their pages."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from curves.models import PriceEntry
from curves.queries.prices import newest_prices, price_document
from curves.sensitometry.frame_cost import cost_per_frame, rolls_from_bulk
from curves.services.films import add_stock
from curves.services.prices import enter_price, strike_price
from labsite.common.errors import InvalidInput, NotAllowed, NotFound, WrongState

PACK = {
    "kind": "pack",
    "film_format": "35 mm",
    "price": Decimal("8.90"),
    "currency": "EUR",
    "priced_on": date(2026, 5, 4),
    "source": "mail order",
    "frames_per_roll": 36,
}
BULK = PACK | {
    "kind": "bulk",
    "price": Decimal("94"),
    "length_m": Decimal("30.5"),
    "frames_per_metre": Decimal("26.3"),
    "loss_m": Decimal("0.25"),
}
SHEETS = {key: value for key, value in PACK.items() if key != "frames_per_roll"} | {
    "kind": "sheets",
    "film_format": "9 × 12 cm",
    "price": Decimal("42"),
    "count": 25,
}


@pytest.fixture
def stock(owner):
    return add_stock(actor=owner, name="Alder 100", maker="Fenwick Works", box_speed=100)


@pytest.mark.parametrize(
    ("given", "frames", "cost"),
    [
        (PACK, 36, "0.2472"),
        (PACK | {"count": 5, "price": Decimal("40")}, 180, "0.2222"),
        # 36 / 26.3 + 0.25 = 1.6188 m a roll, so 18 whole rolls of 30.5 m: 648 frames.
        (BULK, 648, "0.1451"),
        (BULK | {"cassette_price": Decimal("1.80"), "cassette_uses": 5}, 648, "0.1551"),
        (BULK | {"loss_m": Decimal(0)}, 792, "0.1187"),
        (SHEETS, 25, "1.6800"),
    ],
)
def test_a_frame_costs_its_share_of_what_was_paid(owner, stock, given, frames, cost):
    price = enter_price(actor=owner, stock_id=stock.pk, **given)
    price.refresh_from_db()
    assert price.frames == frames
    assert price.cost_per_frame == Decimal(cost)
    assert price_document(price)["cost_per_frame"] == cost


def test_the_arithmetic_is_exact_where_binary_fractions_are_not():
    assert cost_per_frame(Decimal("0.30"), 3) == Decimal("0.1000")
    assert rolls_from_bulk(Decimal("5.2"), 26, Decimal(20), Decimal(0)) == 4, "1.3 m each, to the last one"


@pytest.mark.parametrize(
    ("given", "field"),
    [
        (PACK | {"frames_per_roll": None}, "frames_per_roll"),
        (PACK | {"frames_per_roll": 0}, "frames_per_roll"),
        (PACK | {"price": Decimal(0)}, "price"),
        (PACK | {"price": Decimal("1.005")}, "price"),
        (PACK | {"currency": "€"}, "currency"),
        (PACK | {"source": "  "}, "source"),
        (PACK | {"film_format": ""}, "film_format"),
        (PACK | {"count": 0}, "count"),
        (PACK | {"priced_on": timezone.localdate() + timedelta(days=3)}, "priced_on"),
        (PACK | {"length_m": Decimal(30)}, "length_m"),
        (PACK | {"kind": "gift"}, "kind"),
        (BULK | {"loss_m": None}, "loss_m"),
        (BULK | {"frames_per_metre": Decimal(0)}, "frames_per_metre"),
        (BULK | {"length_m": Decimal(1)}, "length_m"),
        (BULK | {"cassette_price": Decimal(0)}, "cassette_price"),
        (SHEETS | {"frames_per_roll": 12}, "frames_per_roll"),
    ],
)
def test_what_makes_no_sense_is_refused_beside_its_field(owner, stock, given, field):
    with pytest.raises(InvalidInput) as refusal:
        enter_price(actor=owner, stock_id=stock.pk, **given)
    problems = refusal.value.problems or ({"field": refusal.value.field},)
    assert field in {problem["field"] for problem in problems}
    assert not PriceEntry.objects.exists()


def test_the_newest_of_each_form_counts_until_it_is_struck_out(owner, labmate, admin, stock):
    old = enter_price(actor=owner, stock_id=stock.pk, **PACK)
    new = enter_price(
        actor=owner, stock_id=stock.pk, **PACK | {"price": Decimal(9), "priced_on": date(2026, 6, 1)}
    )
    bulk = enter_price(actor=owner, stock_id=stock.pk, **BULK)
    assert newest_prices(stock.pk) == [new, bulk]
    with pytest.raises(NotAllowed):
        strike_price(actor=labmate, price_id=new.pk, reason="Too dear.")
    with pytest.raises(InvalidInput):
        strike_price(actor=owner, price_id=new.pk, reason=" ")
    with pytest.raises(NotFound):
        strike_price(actor=owner, price_id=new.pk, stock_id=stock.pk + 1, reason="Slip.")
    strike_price(actor=owner, price_id=new.pk, reason="It was for three rolls.")
    assert newest_prices(stock.pk) == [old, bulk]
    with pytest.raises(WrongState):
        strike_price(actor=admin, price_id=new.pk, reason="Again.")


def test_the_pages_enter_show_and_strike_and_keep_what_was_typed(owner, stock, client_for):
    client = client_for(owner)
    typed = PACK | {"price": "8,90", "priced_on": "2026-05-04", "frames_per_roll": "36"}
    refused = client.post(reverse("price_new", args=[stock.pk]), typed | {"currency": "€"})
    assert refused.status_code == 400
    assert 'value="8,90"' in refused.text
    assert "three letters" in refused.text
    client.post(reverse("price_new", args=[stock.pk]), typed)
    price = stock.prices.get()
    listed = client.get(reverse("stock_prices", args=[stock.pk])).text
    assert "8.90 EUR" in listed
    assert "0.247 EUR" in listed
    client.post(reverse("price_strike", args=[stock.pk, price.pk]), {"reason": "Slip of the pen."})
    listed = client.get(reverse("stock_prices", args=[stock.pk])).text
    assert "Slip of the pen." in listed
    assert "<s>8.90 EUR</s>" in listed
    assert reverse("price_strike", args=[stock.pk, price.pk]) not in listed
