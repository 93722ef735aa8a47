"""Who may open a page that visitors of an open lab may read, too; by which methods forms are asked for."""

from functools import wraps

from django.views.decorators.http import require_http_methods

from labsite.accounts.pages.access import admins_only, members_only, posted_from
from labsite.accounts.queries import may_read_accepted
from labsite.common.errors import NotAllowed

__all__ = ["GET_OR_POST", "admins_only", "members_only", "posted_from", "readers_only"]

GET_OR_POST = require_http_methods(["GET", "HEAD", "POST"])


def readers_only(view):
    """Let members in, and visitors where the lab is open to them; others are asked to sign in."""

    @wraps(view)
    def readers_view(request, *args, **kwargs):
        if not may_read_accepted(request.user):
            raise NotAllowed("This lab is not open to visitors. Sign in first.")
        return view(request, *args, **kwargs)

    return readers_view
