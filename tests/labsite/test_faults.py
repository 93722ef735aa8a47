"""A domain error that a page lets through becomes a page that says what would mend it."""

import pytest
from django.http import Http404
from django.test import override_settings
from django.urls import include, path

from labsite.common.errors import InvalidInput, NotAllowed, NotFound, WrongState

RAISED = {
    "not-allowed": lambda: NotAllowed("Only an admin of the lab may do this."),
    "not-found": lambda: NotFound("There is no such roll."),
    "wrong-state": lambda: WrongState("This revision is in force."),
    "invalid": lambda: InvalidInput("A density is missing."),
    "missing": Http404,
    "broken": ZeroDivisionError,
}


def refuse(request, how):
    """A page that raises."""
    raise RAISED[how]()


urlpatterns = [
    path("raise/<how>/", refuse),
    path("api/raise/<how>/", refuse),
    path("", include("labsite.urls")),
]
handler500 = "labsite.faults.broken"

pytestmark = [pytest.mark.django_db, pytest.mark.urls(__name__)]


@pytest.mark.parametrize(
    ("how", "status", "words"),
    [
        ("not-allowed", 403, "Only an admin of the lab may do this."),
        ("not-found", 404, "There is no such roll."),
        ("wrong-state", 409, "This revision is in force."),
        ("invalid", 400, "A density is missing."),
        ("missing", 404, "Nothing has this address"),
    ],
)
def test_a_refusal_is_a_page_with_the_right_status(client_for, owner, how, status, words):
    response = client_for(owner).get(f"/raise/{how}/")
    assert response.status_code == status
    assert words in response.content.decode()


def test_a_visitor_who_may_not_is_asked_to_sign_in(client):
    response = client.get("/raise/not-allowed/")
    assert response.status_code == 302
    assert response.url == "/account/sign-in/?next=/raise/not-allowed/"
    assert client.post("/raise/not-allowed/").status_code == 403  # what was typed is not thrown away


def test_a_fault_of_ours_has_a_page_of_its_own(client):
    client.raise_request_exception = False
    response = client.get("/raise/broken/")
    assert response.status_code == 500
    assert "Nothing of this request was stored" in response.content.decode()


def test_a_fault_of_ours_answers_a_script_in_the_shape_of_all_refusals(client):
    client.raise_request_exception = False
    response = client.get("/api/raise/broken/")
    assert response.status_code == 500
    answer = response.json()
    assert (answer["code"], answer["field"]) == ("broken", None)
    assert response["X-Request-Id"] in answer["message"]


def test_a_stale_form_is_explained(db):
    from django.test import Client

    response = Client(enforce_csrf_checks=True).post("/raise/invalid/")
    assert response.status_code == 403
    assert "The form was not accepted" in response.content.decode()


@override_settings(DEBUG=False)
def test_an_unknown_address_is_a_page_too(client):
    response = client.get("/no/such/place/")
    assert response.status_code == 404
    assert "There is nothing here" in response.content.decode()
