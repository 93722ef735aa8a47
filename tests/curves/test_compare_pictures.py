"""Grain and sharpness on the Compare page: columns, filters, order, words, files; one rig at a time."""

import json

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from curves.models import FilmStock, Roll, RollState
from curves.queries.comparison import comparison_view
from tests.factories.many_stocks import make_many_stocks
from tests.factories.pictures import picture_row
from tests.factories.rolls import make_standards

GRAIN, SHARP = "rms_granularity", "film_mtf50"
OTHER = "b" * 64


def build_lab(owner, admin):
    """Six stocks with two rolls each; five measured, one of them by another rig, one bounded by nobody."""
    made = make_many_stocks(owner, make_standards(admin), stocks=6, rolls=2)
    for number, stock in enumerate(made[:4]):
        for roll in rolls_of(stock):
            picture_row(roll, GRAIN, 8.0 + 3 * number)
            picture_row(roll, SHARP, 70.0 - 12 * number)
    picture_row(rolls_of(made[4])[0], GRAIN, 7.0, rig=OTHER)
    return made


@pytest.fixture
def stocks(lab):
    return lab


def rolls_of(stock: FilmStock):
    return list(Roll.objects.filter(batch__stock=stock).order_by("pk"))


def shown(user, stocks, **choice):
    view = comparison_view(user)
    return {stock.stock.pk: stock.pictures for stock in view.stocks}


def test_pooled_by_the_lab_s_rig_apart_by_another_and_not_measured(owner, stocks):
    found = shown(owner, stocks)
    first = found[stocks[0].pk][GRAIN]
    assert first.value == pytest.approx(8.0) and first.low < 8.0 < first.high and "2 rolls" in first.note
    assert found[stocks[4].pk][GRAIN].reason == "OTHER_RIG"
    assert "Flatbed b" in found[stocks[4].pk][GRAIN].note
    assert found[stocks[5].pk][GRAIN].reason == found[stocks[4].pk][SHARP].reason == "NOT_MEASURED"


def test_a_roll_that_counts_no_more_takes_its_numbers_with_it(owner, stocks):
    Roll.objects.filter(batch__stock=stocks[0]).update(state=RollState.VOID)
    Roll.objects.filter(pk=rolls_of(stocks[1])[0].pk).update(hold_reason="densitometer was wrong")
    found = shown(owner, stocks)
    assert found[stocks[0].pk][GRAIN].reason == "NOT_MEASURED"
    assert "one roll" in found[stocks[1].pk][GRAIN].note


def test_the_page_has_columns_words_filters_and_order(owner, stocks, client_for):
    client = client_for(owner)
    page = client.get("/compare/?columns=rms_granularity.film_mtf50&sort=-rms_granularity").content.decode()
    assert "RMS granularity" in page and "1/1000 D" in page and "by another rig" in page
    said = client.get(f"/compare/words/{stocks[0].pk}/").content.decode()
    assert "Grain is very fine to fine (RMS granularity 8.0" in said
    assert "Not measured here: colour response." in said  # grain and sharpness are
    order = [page.index(f'id="s{stock.pk}-rms_granularity"') for stock in stocks[1:4]]
    assert order == sorted(order, reverse=True)
    filtered = client.get("/compare/?grain_to=12&sharpness_from=50")
    names = {row.stock.stock.name for row in filtered.context["rows"] if not row.stock.is_reference}
    reference = {row.stock.stock.name for row in filtered.context["rows"] if row.stock.is_reference}
    assert names == {stocks[0].name, stocks[1].name} - reference
    assert "grain_to=12" in filtered.context["query"] and "sharpness_from=50" in filtered.context["query"]


def test_the_files_have_the_numbers_and_older_documents_stay_as_they_were(owner, stocks, client_for):
    client = client_for(owner)
    document = json.loads(client.get("/compare/data.json").content)
    line = next(line for line in document["stocks"] if line["stock_id"] == stocks[0].pk)
    assert line["measures"][GRAIN]["value"] == pytest.approx(8.0)
    header = client.get("/compare/data.csv").content.decode().splitlines()[0]
    assert "rms_granularity [1000 D]" in header and "film_mtf50 [cycles/mm]" in header
    from curves.queries.comparison_document import document_lines

    assert not any("granularity" in cell for cell in document_lines(document | {"format": 1})[0])


@pytest.mark.parametrize("query", ["", "grain_to=12", "sort=film_mtf50"])
def test_pictures_take_one_query_however_they_are_asked_for(owner, stocks, query, client_for):
    client = client_for(owner)
    with CaptureQueriesContext(connection) as queries:
        assert client.get(f"/compare/?{query}").status_code == 200
    pictures = [each["sql"] for each in queries if "curves_picturemeasure" in each["sql"]]
    assert len(pictures) == 1 and len(queries) <= 12, "\n".join(each["sql"][:150] for each in queries)


def test_the_api_answers_the_same_numbers(owner, stocks, client_for):
    answer = client_for(owner).get("/api/v1/comparison/", {"stock": stocks[1].pk})
    if answer.status_code == 404:
        pytest.fail("the address of the API has changed")
    line = next(each for each in answer.json()["stocks"] if each["stock"]["id"] == stocks[1].pk)
    assert line["measures"][SHARP]["value"] == pytest.approx(58.0, rel=1e-3)
