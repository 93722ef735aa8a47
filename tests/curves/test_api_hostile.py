"""Whatever a script sends, no operation breaks: every answer is a documented one, in the documented shape.

For each operation of the document: wrong types, numbers out of range, missing and unknown fields, bodies
that are none, addresses of nothing. ``Script`` holds every answer against the document.
"""

import json
import os
import re
from datetime import date

import pytest

from curves.services.patch_sets import PatchValue, enter_patch_set
from labsite.accounts.models import User
from labsite.accounts.services import update_lab
from tests.architecture.access import (
    agreement,
    control_strips,
    instrument_checks,
    scan_files,
    scan_measuring,
)
from tests.architecture.access_lab import AccessLab
from tests.factories.instruments import make_instrument
from tests.factories.jobs import drill_job, job_kind
from tests.factories.kept import kept_and_said
from tests.factories.papers import draft_paper
from tests.factories.scripts import Script, api_document, check_answer, operations
from tests.factories.sheets import priced_and_published
from tests.factories.standards import draft_exposure, draft_process, draft_tablet, make_exposure, make_process
from tests.factories.standing import roll_row, stock_row
from tests.factories.taken_back import taken_back

HOSTILE = (
    None,
    True,
    -1,
    0,
    1.5,
    2**31,
    2**63,
    10**30,
    "",
    "x" * 5000,
    "NaN",
    "-inf",
    "2026-02-30",
    "nul \x00 byte",
    "half \ud800 pair",
    "<b>'; --",
    [],
    [[]],
    [None, "x", 10**30],
    {},
    {"id": {"id": 1}},
)
HUGE_IDS = (0, 2**31, 2**63 - 1, 2**63, 10**30)
ANY_BODY = ([], "x", 7, None, True, [{}], {"": ""}, {"half \ud800 pair": 1})
if "LABSITE_TEST_DATABASE_URL" in os.environ:
    # What another database may take otherwise than SQLite does, which had all of them: numbers out of its
    # range, text that is too long for a column, characters that it can't hold.
    HOSTILE = (2**31, 2**63, 10**30, "x" * 5000, "NaN", "nul \x00 byte", "half \ud800 pair")
    ANY_BODY = ()
EVERY = [pytest.param(*each, id=each[2]["operationId"]) for each in operations()]
WITH_BODY = [
    pytest.param(*each, id=each[2]["operationId"])
    for each in operations()
    if "application/json" in each[2].get("requestBody", {}).get("content", {})
]
WITH_QUERY = [
    pytest.param(*each, id=each[2]["operationId"])
    for each in operations()
    if any(parameter["in"] == "query" for parameter in each[2].get("parameters", []))
]


@pytest.fixture(scope="module")
def lab(django_db_setup, django_db_blocker):
    """(admin, places): one lab for all of these tests, which take back what they change."""
    with django_db_blocker.unblock(), pytest.MonkeyPatch.context() as patch, taken_back():
        job_kind(patch, lambda run: {})
        names = {"display_name": "Ada Minster", "initials": "AM", "role": "admin"}
        admin = User.objects.create_user("admin", "grey-card-18", **names)
        yield admin, _places(admin)


@pytest.fixture
def admin(lab, db):
    """The admin of that lab."""
    return lab[0]


@pytest.fixture
def places(lab):
    """Path → that path with things that are there and that an admin may work on."""
    return lab[1]


def _places(admin):
    process, exposure = make_process(admin), make_exposure(admin)
    stock = stock_row(admin)
    roll = roll_row(admin, process, exposure, stock=stock, state="draft")
    enter_patch_set(
        actor=admin,
        exposure_revision_id=exposure.pk,
        name="Target",
        source="Lin",
        patches=[PatchValue("Grey", 0.18, True), PatchValue("Red", 0.1)],
    )
    drafts = {
        "process-revisions": draft_process(admin, "Other process"),
        "exposure-revisions": draft_exposure(admin, "Other light"),
        "tablet-revisions": draft_tablet(admin, "Other tablet"),
    }
    standards = {"process-standards": process.standard, "exposure-standards": exposure.standard}
    known = {
        "stock_id": stock.pk,
        "roll_id": roll.pk,
        "strip_number": 1,
        "instrument_id": make_instrument(admin).pk,
        "job_id": drill_job(requested_by=admin).pk,
        "run_id": _run(admin, process).pk,
        "process_revision_id": process.pk,
        "exposure_revision_id": exposure.pk,
        "analysis_id": 1,
        "result_id": 1,
    }

    drafts["paper-curves"] = draft_paper(admin, "Other paper")
    standards["printing-papers"] = drafts["paper-curves"].paper
    known |= _of_control_and_scans(admin, known)
    known |= kept_and_said(admin, stock, roll, process, exposure)
    known |= priced_and_published(admin, stock, process, exposure)

    def place(path: str) -> str:
        area = path.split("/")[3]
        if area in drafts:
            known["revision_id"] = drafts[area].pk
        if area == "step-tablets":
            known["standard_id"] = exposure.tablet_id
        elif area in standards:
            known["standard_id"] = standards[area].pk
        return path.format(**known)

    return place


def _of_control_and_scans(admin, known: dict) -> dict:
    """What the access table's areas make, here all the admin's own."""
    people = {"owner": admin, "admin": admin}
    lab = AccessLab(people, known, {"draft": {"roll_id": known["roll_id"]}})
    made, things = control_strips.things(lab)
    _, measured = scan_measuring.things(lab)
    _, uploaded = scan_files.things(lab)
    corrected, studied = agreement.things(lab)
    checked, _ = instrument_checks.things(lab)
    made |= things["aims-draft"] | measured["read-scan"] | uploaded["upload"]
    return made | corrected | studied["study"] | checked


def _run(admin, process):
    from tests.factories.rolls import make_run

    return make_run(admin, process, ran_on=date(2026, 5, 4))


def body_schema(operation: dict) -> dict:
    """The schema of an operation's body."""
    return resolved(operation["requestBody"]["content"]["application/json"]["schema"])


def resolved(schema: dict) -> dict:
    """A schema in place of a reference to it."""
    while "$ref" in schema or "allOf" in schema:
        reference = schema.get("$ref") or schema["allOf"][0]["$ref"]
        schema = api_document()["components"]["schemas"][reference.rpartition("/")[2]]
    return schema


def example(schema: dict):
    """A value of the right type, though perhaps of nothing that is there."""
    schema = resolved(schema)
    if "enum" in schema:
        return schema["enum"][0]
    if "oneOf" in schema:
        return example(schema["oneOf"][0])
    kind = schema.get("type")
    if kind == "object":
        return {name: example(inner) for name, inner in schema.get("properties", {}).items()}
    if kind == "array":
        return [example(schema["items"])]
    if kind == "string":
        return "2026-05-04" if schema.get("format") == "date" else "word"
    return {"integer": schema.get("minimum", 1) or 1, "number": 0.5, "boolean": True}[kind]


def faulty_bodies(schema: dict):
    """Bodies with one fault each: in a field, in a field of a row, a field missing, one too many."""
    good = example(schema)
    yield from ANY_BODY
    yield good | {"surplus": 1}
    for name, inner in schema.get("properties", {}).items():
        yield {other: value for other, value in good.items() if other != name}
        for value in HOSTILE:
            yield good | {name: value}
        items = resolved(resolved(inner).get("items", {}))
        for part in items.get("properties", {}):
            for value in HOSTILE:
                yield good | {name: [good[name][0] | {part: value}]}


@pytest.mark.parametrize(("method", "path", "operation"), WITH_BODY)
def test_a_faulty_body_is_refused_and_breaks_nothing(admin, places, method, path, operation):
    script, address = Script(admin, shows_token=False), places(path)
    refused = 0
    for body in faulty_bodies(body_schema(operation)):
        answer = script.client.generic(
            method.upper(), address, json.dumps(body), content_type="application/json"
        )
        check_answer(method, address, answer)
        refused += answer.status_code >= 400
    assert refused > len(ANY_BODY)


@pytest.mark.parametrize(("method", "path", "operation"), WITH_QUERY)
def test_a_faulty_query_is_refused_and_breaks_nothing(admin, places, method, path, operation):
    script, address = Script(admin, shows_token=False), places(path)
    for parameter in operation["parameters"]:
        if parameter["in"] == "query":
            for value in HOSTILE:
                text = value if isinstance(value, str) else json.dumps(value)
                answer = script.client.get(
                    address, {parameter["name"]: text.encode("utf-8", "surrogatepass")}
                )
                check_answer(method, address, answer)
    if operation["parameters"] and "400" in operation["responses"]:
        assert script.client.get(address, {"surplus": "1"}).status_code == 400


@pytest.mark.parametrize(("method", "path", "operation"), [each for each in EVERY if "{" in each.values[1]])
def test_an_address_of_nothing_is_not_found(admin, places, method, path, operation):
    script = Script(admin)
    for number in HUGE_IDS:
        address = re.sub(r"\{(\w+)\}", str(number), path)
        if "{job_id}" in path or "{upload_id}" in path:
            address = re.sub(r"\{\w+\}", "00000000-0000-0000-0000-000000000000", path)
        answer = getattr(script.client, method)(address, {}, **_kind(operation))
        check_answer(method, address, answer)
        assert answer.status_code in (400, 404, 415), "what the body lacks or is may be told first"


@pytest.mark.one_database
@pytest.mark.parametrize(("method", "path", "operation"), EVERY)
def test_who_may_call_it_is_what_the_document_says(admin, places, method, path, operation):
    address = places(path)

    def answer_to(script):
        answer = getattr(script.client, method)(address, {}, **_kind(operation))
        check_answer(method, address, answer)
        return answer

    closed = answer_to(Script())
    assert (closed.status_code, closed["WWW-Authenticate"]) == (401, "Token")
    update_lab(actor=admin, name="Open lab", contact="", is_open_to_visitors=True)
    assert (answer_to(Script()).status_code == 401) == ({} not in operation["security"])
    if method != "get":
        refusal = answer_to(Script(admin, is_read_only=True))
        assert (refusal.status_code, refusal.json()["code"]) == (403, "permission_denied")


def _kind(operation: dict) -> dict:
    is_form = "multipart/form-data" in operation.get("requestBody", {}).get("content", {})
    return {"format": "multipart" if is_form else "json"} if "requestBody" in operation else {}
