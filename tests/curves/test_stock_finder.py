"""Stocks for a purpose: certainly, perhaps or not, each with its reason; the API says the same."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from curves.models import Roll, StockResult
from curves.queries.stock_finder import Wishes, stock_finder
from curves.services.verdicts import approve_verdict, write_verdict
from tests.factories.many_stocks import make_many_stocks
from tests.factories.pictures import picture_row
from tests.factories.rolls import make_standards

PAGE = "/stocks/for/"
TEXT = {"what_for": "Faces in soft light.", "strengths": "A long scale.", "watch_out": "Slow."}


@pytest.fixture
def stocks(owner, admin):
    """Grain 7 and 14 of the first two, none of the third; one is for portraits, one for copying."""
    made = make_many_stocks(owner, make_standards(admin), stocks=3, rolls=2)
    for stock, grain, purpose in zip(made, (7.0, 14.0), ("portrait", "copy"), strict=False):
        for roll in Roll.objects.filter(batch__stock=stock):
            picture_row(roll, "rms_granularity", grain)
        result = StockResult.objects.get(stock=stock)
        verdict = write_verdict(actor=owner, result_id=result.pooled_id, purposes=[purpose], **TEXT)
        approve_verdict(actor=admin, verdict_id=verdict.pk)
    return made


def groups(view):
    return {name: [found.result.stock.name for found in getattr(view, name)] for name in GROUPS}


GROUPS = ("certain", "possible", "excluded")


def test_grain_answers_within_its_interval_and_says_what_is_not_known(owner, stocks):
    view = stock_finder(owner, Wishes(ranges={"grain": (None, 8.0)}))
    assert groups(view) == {
        "certain": [stocks[0].name],
        "possible": [stocks[2].name],
        "excluded": [stocks[1].name],
    }
    assert view.possible[0].open_answers[0].why == "No accepted roll has it measured."
    assert [answer.name for answer in view.excluded[0].against] == ["grain"]
    # The interval of about ± 7 % reaches over a limit at 7.2.
    assert groups(stock_finder(owner, Wishes(ranges={"grain": (None, 7.2)})))["certain"] == []


def test_purposes_are_those_that_approved_verdicts_name(owner, stocks):
    view = stock_finder(owner, Wishes(purposes=("portrait", "street")))
    assert groups(view) == {
        "certain": [stocks[0].name],
        "possible": [stocks[2].name],
        "excluded": [stocks[1].name],
    }
    assert view.possible[0].open_answers[0].why == "No member has said yet what it is for."
    assert view.certain[0].verdicts[0].what_for == TEXT["what_for"]


def test_wishes_together_are_as_sure_as_the_least(owner, stocks):
    view = stock_finder(owner, Wishes(("portrait",), {"speed": (1.0, None), "grain": (None, 7.2)}))
    assert groups(view)["possible"] == [stocks[0].name, stocks[2].name]


def test_the_page_shows_both_groups_reasons_and_excerpts_and_its_address(owner, stocks, client_for):
    answer = client_for(owner).get(f"{PAGE}?purpose=portrait&grain=8&contrast=nonsense&speed_from=1")
    page = answer.content.decode()
    assert "1 does certainly, 1 perhaps, 1 does not." in " ".join(page.split())
    assert "Faces in soft light." in page and "Watch out: Slow." in page
    assert "Grain: No accepted roll has it measured." in page
    assert f"{stocks[1].name}</a>: purpose, grain" in page
    assert answer.context["query"] == "purpose=portrait&speed_from=1&grain=8"
    assert client_for(owner).get(f"{PAGE}?speed_from=200&speed_to=100").status_code == 400
    assert "have results under" in client_for(owner).get(PAGE).content.decode()


def test_every_stock_is_in_one_group_and_queries_do_not_grow(owner, stocks, client_for):
    client = client_for(owner)
    with CaptureQueriesContext(connection) as queries:
        view = client.get(f"{PAGE}?highlights=strong&range=2.2&sharpness=40").context["view"]
    assert sum(len(names) for names in groups(view).values()) == 3
    assert len(queries) <= 9, "\n".join(each["sql"][:120] for each in queries)


def test_the_api_answers_as_the_page(owner, stocks, client_for):
    client = client_for(owner)
    told = client.get("/api/v1/stocks-for-purpose/", {"purpose": "portrait", "grain_to": 8}).json()["stocks"]
    assert [(each["stock"]["name"], each["fit"]) for each in told] == [
        (stocks[0].name, "certain"),
        (stocks[2].name, "possible"),
        (stocks[1].name, "excluded"),
    ]
    assert told[0]["answers"][1]["measure"]["value"] == pytest.approx(7.0)
    refused = client.get("/api/v1/stocks-for-purpose/", {"grain_from": 9, "grain_to": 8})
    assert refused.status_code == 400 and refused.json()["field"] == "grain_to"
