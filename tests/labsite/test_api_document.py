"""The OpenAPI document: valid, complete, and the same at its address; and answers where there is nothing."""

import json

import pytest
from django.core.management import call_command
from django.test import Client

from tests.factories.scripts import Script, api_document, operations

EVERY = [pytest.param(*each, id=each[2]["operationId"]) for each in operations()]
#: Kinds of things that visitors of an open lab may read.
READING_KINDS = {"process-standards", "exposure-standards", "step-tablets", "stocks", "rolls", "comparison"}


def test_the_document_is_valid_and_nothing_in_it_was_guessed(capsys, tmp_path):
    call_command("spectacular", file=str(tmp_path / "openapi.yaml"), validate=True, fail_on_warn=True)
    assert capsys.readouterr().err == ""


@pytest.mark.django_db
def test_the_document_is_served_to_anybody():
    answer = Client().get("/api/openapi.json")
    assert answer.status_code == 200
    assert json.loads(answer.content)["paths"] == api_document()["paths"]


@pytest.mark.parametrize(("method", "path", "operation"), EVERY)
def test_every_operation_says_all(method, path, operation):
    assert 10 < len(operation["summary"]) < 110
    assert "For: " in operation["description"]
    assert operation["tags"] == [path.split("/")[3]]
    for parameter in operation.get("parameters", []):
        assert parameter["in"] == "query" or parameter["required"]
        assert parameter.get("description") or "enum" in str(parameter) or parameter["in"] == "query"
    responses = operation["responses"]
    assert [status for status in responses if status.startswith("2")] in (["200"], ["201"], ["204"])
    assert "401" in responses
    refusal = {"$ref": "#/components/schemas/Refusal"}
    for status, response in responses.items():
        if not status.startswith("2"):
            assert response["content"]["application/json"]["schema"] == refusal
            assert response["description"]
    assert ("requestBody" in operation) == ("415" in responses)
    if method != "get":
        assert "403" in responses, "a token may be for reading only"


def test_operations_have_names_of_their_own():
    names = [operation["operationId"] for _, _, operation in operations()]
    assert len(set(names)) == len(names)
    assert {"rolls_list", "rolls_create", "rolls_submit", "stocks_batches_create"} <= set(names)


def test_only_operations_for_readers_go_without_a_token():
    open_paths = {path.split("/")[3] for _, path, operation in operations() if {} in operation["security"]}
    assert open_paths >= READING_KINDS
    assert not open_paths & {"me", "jobs", "instruments", "process-runs"}
    assert all(method == "get" for method, _, operation in operations() if {} in operation["security"])


def test_every_value_that_is_sent_or_answered_has_a_type():
    """An empty schema would let anything pass; the three that are open say so by their nature."""
    free = {
        (name, field)
        for name, schema in api_document()["components"]["schemas"].items()
        for field, inner in schema.get("properties", {}).items()
        if not set(inner) - {"description", "nullable", "title"}
    }
    assert {field for _, field in free} <= {"value", "outcome"}


@pytest.mark.django_db
@pytest.mark.parametrize("path", ["/api/v1/nothing/", "/api/v1/rolls", "/api/v2/rolls/", "/api/v1/rolls/x/"])
@pytest.mark.parametrize("method", ["get", "post", "put", "patch", "delete"])
def test_an_address_that_there_is_not_is_refused_in_the_common_shape(method, path):
    answer = getattr(Client(), method)(path)
    assert answer.status_code == 404
    assert answer.json()["code"] == "not_found"
    assert "openapi.json" in answer.json()["message"]


def test_a_method_that_there_is_not_is_refused(owner):
    answer = Script(owner).client.delete("/api/v1/me/")
    assert (answer.status_code, answer.json()["code"]) == (405, "method_not_allowed")


@pytest.mark.parametrize(
    ("body", "status", "words"),
    [
        ("{", 400, "JSON"),
        ('{"name": NaN}', 400, "JSON"),
        ("[" * 100_000, 400, "nested"),
        ("[]", 400, "dictionary"),
        ("null", 400, "No data"),
        (b"\xff\xfe", 400, "JSON"),
        ('{"notes": "' + "x" * 1_000_001 + '"}', 413, "larger"),
    ],
    ids=["cut short", "NaN", "nested", "list", "null", "not text", "large"],
)
def test_a_body_that_is_none_is_refused_with_a_reason(owner, body, status, words):
    script = Script(owner)
    answer = script.client.generic("POST", "/api/v1/stocks/", body, content_type="application/json")
    assert answer.status_code == status, answer.content
    assert words in answer.json()["message"]


def test_a_body_of_another_kind_is_refused(owner):
    answer = Script(owner).client.generic("POST", "/api/v1/stocks/", "name=x", content_type="text/plain")
    assert (answer.status_code, answer.json()["code"]) == (415, "unsupported_media_type")


def test_a_form_with_too_many_parts_is_refused(owner, settings):
    settings.DATA_UPLOAD_MAX_NUMBER_FIELDS = 5
    fields = {f"part-{number}": "x" for number in range(9)}
    answer = Script(owner).client.post("/api/v1/rolls/1/strips/1/readings-file/", fields, format="multipart")
    assert answer.status_code == 400, answer.content
    assert "too many parts" in answer.json()["message"]


def test_a_name_that_is_not_known_is_refused_and_not_passed_over(owner):
    script = Script(owner)
    stock = {"name": "Alder 100", "maker": "Fenwick Works", "box_speed": 100}
    refusal = script.refused("post", "stocks/", stock | {"note": "from the fridge"}, status=400)
    assert refusal["field"] == "note"
    assert "notes" in refusal["message"]
    refusal = script.refused("get", "rolls/", status=400, query="stat=accepted")
    assert refusal["field"] == "stat"
    assert script.get("stocks/")["count"] == 0


def test_no_cache_keeps_what_a_token_may_read(owner):
    answer = Script(owner).call("get", "me/")
    assert "no-store" in answer["Cache-Control"]
