"""A refusal looks the same from every API view: code, message, field, and all problems at once."""

import pytest
from rest_framework.decorators import api_view, permission_classes
from rest_framework.exceptions import (
    MethodNotAllowed,
    NotAuthenticated,
    ParseError,
    Throttled,
    ValidationError,
)
from rest_framework.pagination import PageNumberPagination
from rest_framework.permissions import AllowAny
from rest_framework.test import APIRequestFactory

from labsite.common.api import Paging
from labsite.common.errors import InvalidInput, LabError, NotAllowed, NotFound, WrongState


def answer_to(error):
    """What the API answers when a view raises the error."""

    @api_view(["GET"])
    @permission_classes([AllowAny])
    def view(request):
        raise error

    view.cls.authentication_classes = []
    return view(APIRequestFactory().get("/"))


@pytest.mark.parametrize(
    ("error", "status", "code"),
    [
        (InvalidInput("Not a density."), 400, "invalid"),
        (NotAllowed("Only an admin."), 403, "not_allowed"),
        (NotFound("No such roll."), 404, "not_found"),
        (WrongState("In force."), 409, "wrong_state"),
        (LabError("No.", code="special"), 400, "special"),
    ],
)
def test_domain_errors(error, status, code):
    response = answer_to(error)
    assert response.status_code == status
    assert response.data == {"code": code, "message": str(error), "field": None}


def test_a_domain_error_names_its_field_and_lists_every_problem():
    problems = ({"row": 3, "column": "density", "value": "x", "message": "Not a number."},)
    response = answer_to(InvalidInput("Two rows are wrong.", field="file", problems=problems))
    assert response.data["field"] == "file"
    assert response.data["problems"] == list(problems)


def test_a_serializers_errors_become_one_row_a_problem():
    detail = {"name": ["Required.", "Too short."], "steps": [{"density": ["Not a number."]}, {}]}
    response = answer_to(ValidationError(detail))
    assert response.status_code == 400
    assert response.data == {
        "code": "invalid",
        "message": "Required.",
        "field": "name",
        "problems": [
            {"field": "name", "message": "Required."},
            {"field": "name", "message": "Too short."},
            {"field": "steps.0.density", "message": "Not a number."},
        ],
    }


def test_an_error_of_the_whole_form_has_no_field():
    response = answer_to(ValidationError({"non_field_errors": ["These do not fit together."]}))
    assert response.data["field"] is None
    assert response.data["message"] == "These do not fit together."


@pytest.mark.parametrize(
    ("error", "status", "code"),
    [
        (ParseError(), 400, "parse_error"),
        (MethodNotAllowed("PATCH"), 405, "method_not_allowed"),
        (NotAuthenticated(), 403, "not_authenticated"),
    ],
)
def test_errors_of_the_framework_have_the_same_shape(error, status, code):
    response = answer_to(error)
    assert response.status_code == status
    assert set(response.data) == {"code", "message", "field"}
    assert response.data["code"] == code


def test_headers_that_clients_need_are_kept():
    assert answer_to(Throttled(wait=7))["Retry-After"] == "7"


def test_a_fault_of_ours_is_not_dressed_up_as_a_refusal():
    with pytest.raises(ZeroDivisionError):
        answer_to(ZeroDivisionError())


def test_lists_come_in_pages_of_fifty_and_at_most_two_hundred():
    assert issubclass(Paging, PageNumberPagination)
    request = APIRequestFactory().get("/", {"page_size": "1000"})
    request.query_params = request.GET
    assert Paging().get_page_size(request) == 200
    request = APIRequestFactory().get("/")
    request.query_params = request.GET
    assert Paging().get_page_size(request) == 50
