"""Saved and frozen comparisons by script: the same services, the same refusals, the same numbers."""

import hashlib

import pytest

from curves.models import FrozenComparison, SavedComparison
from tests.factories.many_stocks import make_many_stocks
from tests.factories.rolls import make_standards

SAVED, FROZEN = "/api/v1/saved-comparisons/", "/api/v1/frozen-comparisons/"
JSON = "application/json"


@pytest.fixture
def stocks(owner, admin):
    return make_many_stocks(owner, make_standards(admin), stocks=3, rolls=1)


def test_a_comparison_is_saved_renamed_and_deleted_by_its_owner_alone(owner, labmate, client_for):
    own, other = client_for(owner), client_for(labmate)
    made = own.post(SAVED, {"name": "Slow films", "query": "?view=panels"}, content_type=JSON)
    assert made.status_code == 201 and made.json()["query"] == "view=panels"
    address = f"{SAVED}{made.json()['id']}/"
    again = own.post(SAVED, {"name": "Slow films"}, content_type=JSON)
    assert again.status_code == 400 and again.json()["field"] == "name"
    assert other.get(address).json()["owner"]["name"] == "Ola Ownfield"
    assert other.patch(address, {"name": "Mine"}, content_type=JSON).status_code == 403
    assert own.patch(address, {"name": "Slower"}, content_type=JSON).json()["name"] == "Slower"
    assert [each["name"] for each in other.get(SAVED).json()["results"]] == ["Slower"]
    assert own.delete(address).status_code == 204 and not SavedComparison.objects.exists()


def test_a_frozen_one_is_what_the_page_would_freeze_and_stays(owner, stocks, client_for):
    client = client_for(owner)
    body = {"title": "Two of three", "stock": [stocks[1].pk]}
    made = client.post(FROZEN, body, content_type=JSON)
    assert made.status_code == 201
    frozen = made.json()
    kept = FrozenComparison.objects.get()
    assert frozen["digest"] == hashlib.sha256(kept.table.encode()).hexdigest()
    names = {stock["stock"] for stock in frozen["document"]["stocks"]}
    assert stocks[1].name in names and len(names) == 2  # and the reference
    assert f"stocks={stocks[1].pk}" in kept.query and frozen["newer"] == []
    assert client.get(f"{FROZEN}{frozen['code']}/").json() == frozen
    assert client.get(FROZEN).json()["results"][0]["title"] == "Two of three"
    assert client.get(f"/compare/frozen/{frozen['code']}/").status_code == 200


@pytest.mark.parametrize(
    ("body", "status", "said"),
    [
        ({"title": ""}, 400, "title"),
        ({"title": "All", "standards": "987654-987654"}, 404, "standards"),
        ({"title": "All", "stock": [10**6]}, 409, "1 of the 1"),
    ],
)
def test_less_than_was_meant_is_not_frozen(body, status, said, owner, stocks, client_for):
    answer = client_for(owner).post(FROZEN, body, content_type=JSON)
    assert answer.status_code == status and said in answer.content.decode()
    assert not FrozenComparison.objects.exists()
