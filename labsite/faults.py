"""Pages for requests that fail: refused, not found, broken."""

from django.shortcuts import render


def csrf_failure(request, reason=""):
    """The form was stale or came from elsewhere: say how to go on."""
    return render(request, "csrf_failure.html", status=403)
