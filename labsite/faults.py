"""Pages for requests that fail: refused, not found, stale."""

from django.contrib.auth.views import redirect_to_login
from django.shortcuts import render

from labsite.common.api import status_of
from labsite.common.errors import LabError, NotAllowed


def csrf_failure(request, reason=""):
    """The form was stale or came from elsewhere: say how to go on."""
    return render(request, "csrf_failure.html", status=403)


def refusal_page(request, error: LabError):
    """A domain error that the view let through, as a page; a visitor is asked to sign in first."""
    if (
        isinstance(error, NotAllowed)
        and not request.user.is_authenticated
        and request.method in ("GET", "HEAD")
    ):
        return redirect_to_login(request.get_full_path())
    status = status_of(error)
    template = f"{status}.html" if status in (403, 404) else "refused.html"
    return render(request, template, {"message": error.message}, status=status)


class Refusals:
    """Middleware that turns a domain error into its page, so that views need no try."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        return self.get_response(request)

    def process_exception(self, request, error):
        """Answer our own refusals; anything else is a fault and goes on to Django."""
        return refusal_page(request, error) if isinstance(error, LabError) else None
