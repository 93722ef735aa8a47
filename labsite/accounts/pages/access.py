"""Who may open a page. Services and queries check again, for the API and for jobs.

A refusal becomes a page in ``labsite.faults``, which asks visitors to sign in first.
"""

from functools import wraps

from django.shortcuts import redirect
from django.views.decorators.http import require_POST

from labsite.common.access import require_admin, require_member


def members_only(view):
    """Open the page to members."""
    return _guarded(view, require_member)


def admins_only(view):
    """Open the page to admins."""
    return _guarded(view, require_admin)


def posted_from(route: str):
    """Take posts only; whoever opens the address itself gets the page that posts to it."""

    def decorate(view):
        posted = require_POST(view)

        @wraps(view)
        def posted_view(request, *args, **kwargs):
            if request.method in ("GET", "HEAD"):
                return redirect(route, *args, **kwargs)
            return posted(request, *args, **kwargs)

        return posted_view

    return decorate


def _guarded(view, require):
    @wraps(view)
    def guarded_view(request, *args, **kwargs):
        require(request.user)
        return view(request, *args, **kwargs)

    return guarded_view
