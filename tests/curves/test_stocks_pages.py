"""Stocks as pages: the list, and entering stocks and batches."""

import csv
import io
import re
from datetime import date, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from curves.models import FilmStock, Roll
from curves.queries.coverage import CoverageFilter, coverage_board
from curves.services.films import edit_stock
from tests.factories.labs import lab_standards, make_other_standards, make_stocks, open_lab
from tests.factories.rolls import (
    make_accepted_roll,
    make_batch,
    make_run,
    make_standards,
)
from tests.factories.standing import stock_row


def rows_of(answer) -> list[dict]:
    return list(csv.DictReader(io.StringIO(answer.text)))


def names_in(answer) -> list[str]:
    """The stocks of the list in their order."""
    return re.findall(r'<th scope="row"><a href="/stocks/\d+/[^"]*">([^<]+)</a>', answer.text)


@pytest.fixture
def standards(admin):
    return lab_standards(admin)


def build_lab(owner, admin):
    return make_stocks(owner, admin, make_standards(admin))


# --- The list


def test_the_list_shows_standing_results_and_says_where_there_is_none(lab, owner, client_for):
    answer = client_for(owner).get(reverse("stock_list"))
    assert names_in(answer) == ["Alder 100", "Birch 200", "Cedar 50"]
    assert "no result under these standards" in answer.text
    assert "house reference" in answer.text
    assert "House process, revision 1 · Daylight contact, revision 1" in answer.text


def test_newest_is_the_day_of_development_as_on_the_coverage_board(lab, owner, client_for):
    """Birch was accepted after Alder, but developed ten days before it."""
    today = timezone.localdate()
    for name, days in (("alder", 30), ("birch", 40)):
        roll = Roll.objects.filter(batch__stock=lab[name]).first()
        others = Roll.objects.filter(batch__stock=lab[name]).exclude(pk=roll.pk)
        run = make_run(owner, roll.process_revision, ran_on=today - timedelta(days=days))
        Roll.objects.filter(pk=roll.pk).update(run=run)
        others.update(run=None, exposed_on=today - timedelta(days=days + 1))
    client = client_for(owner)
    answer = client.get(reverse("stock_list"), {"sort": "-newest"})
    assert names_in(answer)[:2] == ["Alder 100", "Birch 200"]
    rows = {row.stock.name: row.newest_on for row in answer.context["rows"]}
    assert rows == {
        "Alder 100": today - timedelta(days=30),
        "Birch 200": today - timedelta(days=40),
        "Cedar 50": None,
    }
    board = coverage_board(owner, CoverageFilter())
    for row in board.rows:
        assert max((c.newest_on for c in row.cells if c.newest_on), default=None) == rows[row.stock.name]
    lines = rows_of(client.get(reverse("stock_list"), {"export": "csv"}))
    told = {line["stock"]: line["newest_roll_developed"] for line in lines}
    assert told["Alder 100"] == f"{today - timedelta(days=30)}" and told["Cedar 50"] == ""


WANTED = [
    ({"q": "birch"}, ["Birch 200"]),
    ({"q": "fenwick"}, ["Alder 100", "Birch 200", "Cedar 50"]),
    ({"slowest": "100"}, ["Alder 100", "Birch 200"]),
    ({"slowest": "60", "fastest": "150"}, ["Alder 100"]),
    ({"result": "yes"}, ["Alder 100", "Birch 200"]),
    ({"result": "no"}, ["Cedar 50"]),
    ({"production": "no"}, ["Birch 200"]),
    ({"sensitisation": "orthochromatic"}, ["Birch 200"]),
    ({"format": "4×5 in"}, ["Birch 200"]),
    ({"format": "no such"}, []),
    ({"slowest": "many"}, []),
    ({"sort": "-name"}, ["Cedar 50", "Birch 200", "Alder 100"]),
    ({"sort": "-index"}, ["Birch 200", "Alder 100", "Cedar 50"]),
    ({"sort": "box"}, ["Cedar 50", "Alder 100", "Birch 200"]),
    ({"sort": "-rolls"}, ["Alder 100", "Birch 200", "Cedar 50"]),
    ({"sort": "newest"}, ["Alder 100", "Birch 200", "Cedar 50"]),
    ({"sort": "no such key"}, ["Alder 100", "Birch 200", "Cedar 50"]),
]


def test_the_list_filters_and_sorts(lab, owner, client_for):
    edit_stock(
        actor=owner,
        stock_id=lab["birch"].pk,
        name="Birch 200",
        maker="Fenwick Works",
        box_speed=200,
        formats=["4×5 in"],
        sensitisation="orthochromatic",
        is_in_production=False,
    )
    client = client_for(owner)
    found = [(query, names_in(client.get(reverse("stock_list"), query))) for query, _ in WANTED]
    assert found == WANTED


def test_the_export_has_value_interval_and_reason(lab, owner, client_for):
    rows = rows_of(client_for(owner).get(reverse("stock_list"), {"export": "csv", "sort": "name"}))
    by_name = {row["stock"]: row for row in rows}
    alder = by_name["Alder 100"]
    assert alder["rolls"] == "2"
    index, low, high = (float(alder[f"exposure_index{end}"]) for end in (" [EI]", " low", " high"))
    # Made with its speed point at -1.6: 0.8/10^-1.6 = 31.8.
    assert low < 0.8 / 10**-1.6 < high
    assert low < index < high
    withheld = [row["iso_speed withheld"] for row in rows if row["result"] and not row["iso_speed [ISO]"]]
    assert all(withheld), "a withheld speed says why"
    assert by_name["Cedar 50"]["result"] == by_name["Cedar 50"]["exposure_index [EI]"] == ""


def test_visitors_see_stocks_with_a_result_and_a_closed_lab_shows_none(lab, visitor, client_for):
    client = client_for(visitor)
    assert client.get(reverse("stock_list")).status_code == 302
    open_lab()
    answer = client.get(reverse("stock_list"))
    assert names_in(answer) == ["Alder 100", "Birch 200"]
    assert "New stock" not in answer.text
    assert client.get(reverse("stock", args=[lab["cedar"].pk])).status_code == 404


def test_results_under_other_standards_are_shown_when_asked_for(lab, owner, admin, client_for):
    other = make_other_standards(admin, "Push")
    make_accepted_roll(owner, admin, lab["birch"].batches.get(), other, run=make_run(owner, other[0]))
    pair = f"{other[0].pk}-{other[1].pk}"
    answer = client_for(owner).get(reverse("stock_list"), {"standards": pair, "result": "yes"})
    assert names_in(answer) == ["Birch 200"]
    assert "Push process, revision 1 · Push light, revision 1." in answer.text


def test_pages_of_the_list_hold_every_stock_once(owner, client_for):
    for number in range(60):
        stock_row(owner, f"Film {number:02d}")
    client = client_for(owner)
    first, second = (names_in(client.get(reverse("stock_list"), {"page": page})) for page in (1, 2))
    assert (len(first), len(second)) == (50, 10)
    assert len({*first, *second}) == 60


def test_the_list_asks_the_same_queries_however_many_stocks(
    lab, owner, admin, standards, client_for, django_assert_num_queries
):
    client = client_for(owner)
    # Session and person; formats, pairs, count, stocks, results, references, overrides; the lab.
    with django_assert_num_queries(11):
        client.get(reverse("stock_list"))
    for number in range(3):
        make_accepted_roll(owner, admin, make_batch(owner, f"Dogwood {number}"), standards, seed=number)
    with django_assert_num_queries(11):
        client.get(reverse("stock_list"))


def test_an_empty_lab_says_what_comes_first(owner, visitor, client_for):
    assert "Enter the first film" in client_for(owner).get(reverse("stock_list")).text
    open_lab()
    assert "No results yet" in client_for(visitor).get(reverse("stock_list")).text


# --- Entering


def test_a_stock_then_its_batch_then_the_plan_that_waited(owner, standards, client_for):
    client = client_for(owner)
    plan = reverse("roll_plan")
    answer = client.post(
        f"{reverse('stock_new')}?next={plan}",
        {
            "name": "Elder 400",
            "maker": "unknown",
            "box_speed": "400",
            "sensitisation": "panchromatic",
            "formats": "35 mm, 120,35 mm",
            "is_in_production": "on",
        },
    )
    stock = FilmStock.objects.get(name="Elder 400")
    assert stock.formats == ["35 mm", "120"]
    assert answer.url.startswith(reverse("batch_new", args=[stock.pk]))
    answer = client.post(answer.url, {"emulsion_number": "77", "expires_on": "2028-01-31"})
    batch = stock.batches.get()
    assert batch.expires_on == date(2028, 1, 31)
    assert answer.url == f"{plan}?batch={batch.pk}"
    assert f'value="{batch.pk}" selected' in client.get(answer.url).text


@pytest.mark.parametrize("elsewhere", ["https://other.example/", "//other.example/x", "javascript:alert(1)"])
def test_nobody_is_led_elsewhere_after_a_batch(owner, client_for, elsewhere):
    stock = stock_row(owner)
    address = f"{reverse('batch_new', args=[stock.pk])}?next={elsewhere}"
    client = client_for(owner)
    assert f'href="{elsewhere}' not in client.get(address).text
    answer = client.post(address, {"emulsion_number": "77"})
    assert answer.url == reverse("stock", args=[stock.pk])


def test_what_is_refused_stands_beside_its_field_and_is_kept(owner, client_for):
    stock = stock_row(owner)
    client = client_for(owner)
    typed = {
        "name": stock.name,
        "maker": stock.maker,
        "box_speed": "100",
        "sensitisation": "panchromatic",
        "notes": "typed with care",
    }
    answer = client.post(reverse("stock_new"), typed)
    assert answer.status_code == 400
    assert "already; use that entry" in answer.text
    assert "typed with care" in answer.text
    make_batch_twice = {"emulsion_number": "77"}
    client.post(reverse("batch_new", args=[stock.pk]), make_batch_twice)
    answer = client.post(reverse("batch_new", args=[stock.pk]), make_batch_twice)
    assert answer.status_code == 400
    assert "has a batch 77 already" in answer.text


def test_a_stock_is_edited(owner, labmate, client_for):
    stock = stock_row(owner)
    client = client_for(labmate)
    assert f'value="{stock.name}"' in client.get(reverse("stock_edit", args=[stock.pk])).text
    answer = client.post(
        reverse("stock_edit", args=[stock.pk]),
        {"name": "Aldermoor 125", "maker": stock.maker, "box_speed": "125", "sensitisation": "blue"},
        follow=True,
    )
    assert "The changes are saved." in answer.text
    stock.refresh_from_db()
    assert (stock.name, stock.is_in_production) == ("Aldermoor 125", False)


def test_visitors_and_retired_people_enter_nothing(visitor, stranger, owner, client_for):
    open_lab()
    stock = stock_row(owner)
    for name, args in (("stock_new", []), ("stock_edit", [stock.pk]), ("batch_new", [stock.pk])):
        assert client_for(visitor).get(reverse(name, args=args)).status_code == 302
        assert client_for(visitor).post(reverse(name, args=args), {}).status_code == 403
        assert client_for(stranger).post(reverse(name, args=args), {}).status_code == 403
