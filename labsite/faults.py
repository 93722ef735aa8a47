"""Answers to requests that fail: refused, not found, stale, and broken by a fault of ours."""

from django.contrib.auth.views import redirect_to_login
from django.http import JsonResponse
from django.shortcuts import render
from django.views.defaults import server_error

from labsite.common.access import explained
from labsite.common.api import status_of
from labsite.common.errors import LabError, NotAllowed
from labsite.common.request_id import current_request_id


def csrf_failure(request, reason=""):
    """The form was stale or came from elsewhere: say how to go on."""
    return render(request, "csrf_failure.html", status=403)


def broken(request):
    """A fault of ours: a page, or for a script the shape that all refusals of the API have."""
    if not request.path.startswith("/api/"):
        return server_error(request)
    message = (
        "Something broke on our side. Nothing of this request was stored. Try again; if it happens again,"
        f" tell an admin of the lab: request {current_request_id() or 'unknown'}."
    )
    return JsonResponse({"code": "broken", "message": message, "field": None}, status=500)


def refusal_page(request, error: LabError):
    """A domain error that the view let through, as a page; a visitor is asked to sign in first."""
    if (
        isinstance(error, NotAllowed)
        and not request.user.is_authenticated
        and request.method in ("GET", "HEAD")
    ):
        return redirect_to_login(request.get_full_path())
    error = explained(error, request.user)
    status = status_of(error)
    template = f"{status}.html" if status in (403, 404) else "refused.html"
    return render(request, template, {"message": error.message, "code": error.code}, status=status)


class Refusals:
    """Middleware that turns a domain error into its page, so that views need no try."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        return self.get_response(request)

    def process_exception(self, request, error):
        """Answer our own refusals; anything else is a fault and goes on to Django."""
        return refusal_page(request, error) if isinstance(error, LabError) else None
