"""What every API view shares: one shape for refusals and one for pages of a list.

A refusal is ``{"code", "message", "field"}``, and ``problems`` beside them where several values were
at fault; the same words as on the pages.
"""

from rest_framework import status
from rest_framework.exceptions import APIException, ValidationError
from rest_framework.pagination import PageNumberPagination
from rest_framework.response import Response
from rest_framework.views import exception_handler, set_rollback

from labsite.common.access import explained
from labsite.common.errors import InvalidInput, LabError, NotAllowed, NotFound, WrongState

STATUSES = {
    InvalidInput: status.HTTP_400_BAD_REQUEST,
    NotAllowed: status.HTTP_403_FORBIDDEN,
    NotFound: status.HTTP_404_NOT_FOUND,
    WrongState: status.HTTP_409_CONFLICT,
}


class Paging(PageNumberPagination):
    """Fifty rows a page; ``page_size`` asks for up to two hundred."""

    page_size = 50
    page_size_query_param = "page_size"
    max_page_size = 200


def status_of(error: LabError) -> int:
    """The HTTP status that says the same as the domain error."""
    return next((code for kind, code in STATUSES.items() if isinstance(error, kind)), 400)


def error_handler(error: Exception, context: dict) -> Response | None:
    """The answer to an exception that a view raised; None leaves it to Django (a fault of ours)."""
    if isinstance(error, LabError):
        set_rollback()
        error = explained(error, context["request"].user)
        return _answer(
            status_of(error), error.code, error.message, field=error.field, problems=list(error.problems)
        )
    response = exception_handler(error, context)
    if response is None:
        return None
    if isinstance(error, ValidationError):
        problems = list(_problems(error.detail))
        first = problems[0]
        answer = _answer(400, "invalid", first["message"], field=first["field"], problems=problems)
    else:
        answer = _answer(response.status_code, *_code_and_message(error, response))
    for header in ("WWW-Authenticate", "Retry-After"):
        if header in response:
            answer[header] = response[header]
    return answer


def _answer(code_number: int, code: str, message: str, *, field=None, problems=()) -> Response:
    body = {"code": code, "message": message, "field": field}
    if problems:
        body["problems"] = problems
    return Response(_sendable(body), status=code_number)


def _sendable(value):
    """The value with what no answer can hold made a question mark: a refusal repeats what it was sent."""
    if isinstance(value, str):
        return value.encode("utf-8", "replace").decode()
    if isinstance(value, dict):
        return {_sendable(name): _sendable(inner) for name, inner in value.items()}
    return [_sendable(inner) for inner in value] if isinstance(value, list) else value


def _code_and_message(error: Exception, response: Response) -> tuple[str, str]:
    if isinstance(error, APIException) and hasattr(error.detail, "code"):
        return error.detail.code, str(error.detail)
    detail = response.data.get("detail", "")
    return getattr(detail, "code", "refused"), str(detail)


def _problems(detail, field: str | None = None):
    """Flatten the framework's nested lists and dictionaries to one row a fault."""
    if isinstance(detail, dict):
        for name, inner in detail.items():
            path = name if field is None else f"{field}.{name}"
            yield from _problems(inner, None if name == "non_field_errors" else str(path))
    elif isinstance(detail, list):
        nested = any(isinstance(inner, dict) for inner in detail)
        for index, inner in enumerate(detail):
            yield from _problems(inner, f"{field or 'row'}.{index}" if nested else field)
    else:
        yield {"field": field, "message": str(detail)}
