"""Who may open a page that visitors of an open lab may read, too."""

from functools import wraps

from labsite.accounts.pages.access import admins_only, members_only
from labsite.accounts.queries import may_read_accepted
from labsite.common.errors import NotAllowed

__all__ = ["admins_only", "members_only", "readers_only"]


def readers_only(view):
    """Let members in, and visitors where the lab is open to them; others are asked to sign in."""

    @wraps(view)
    def readers_view(request, *args, **kwargs):
        if not may_read_accepted(request.user):
            raise NotAllowed("This lab is not open to visitors. Sign in first.")
        return view(request, *args, **kwargs)

    return readers_view
