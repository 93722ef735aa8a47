"""Who may call an operation of the API; services and queries check again, as they do for pages."""

from rest_framework.exceptions import NotAuthenticated
from rest_framework.permissions import BasePermission

from labsite.accounts.queries import may_read_accepted
from labsite.common.access import is_member, require_admin

HOW = "Send a token with the header “Authorization: Token cg_…”; make one on the page Access tokens."


class Members(BasePermission):
    """The members of the lab, admins among them."""

    def has_permission(self, request, view) -> bool:
        """Let members in; others are asked for a token."""
        if not is_member(request.user):
            raise NotAuthenticated(HOW)
        return True


class Admins(Members):
    """The admins of the lab."""

    def has_permission(self, request, view) -> bool:
        """Let admins in; members are refused with the same words as on the pages."""
        super().has_permission(request, view)
        require_admin(request.user)
        return True


class Readers(BasePermission):
    """Members, and visitors without a token where the lab is open to them."""

    def has_permission(self, request, view) -> bool:
        """Let readers in; others are asked for a token."""
        if not may_read_accepted(request.user):
            raise NotAuthenticated(f"This lab is not open to visitors. {HOW}")
        return True
