"""Who may open a page. Services and queries check again, for the API and for jobs."""

from functools import wraps

from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied

from labsite.common.access import require_admin
from labsite.common.errors import NotAllowed


def members_only(view):
    """Ask visitors to sign in first."""
    return login_required(view)


def admins_only(view):
    """Ask visitors to sign in first, and refuse members."""

    @login_required
    @wraps(view)
    def admins_view(request, *args, **kwargs):
        try:
            require_admin(request.user)
        except NotAllowed as fault:
            raise PermissionDenied(fault.message) from None
        return view(request, *args, **kwargs)

    return admins_view
