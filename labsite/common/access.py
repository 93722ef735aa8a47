"""Who may: the three roles, asked in one place.

Users are taken by shape (``is_authenticated``, ``is_active``, ``role``), since this package lies
below the accounts app.
"""

from labsite.common.errors import NotAllowed

MEMBER = "member"
ADMIN = "admin"


def is_member(user) -> bool:
    """Whether the person belongs to the lab (admins do)."""
    return bool(getattr(user, "is_authenticated", False) and user.is_active)


def is_admin(user) -> bool:
    """Whether the person may fix standards, review rolls and invite people."""
    return is_member(user) and user.role == ADMIN


def require_member(user) -> None:
    """Raise NotAllowed unless the person is signed in as a member."""
    if not is_member(user):
        raise NotAllowed("Sign in as a member of the lab to do this.")


def require_admin(user) -> None:
    """Raise NotAllowed unless the person is an admin of the lab."""
    require_member(user)
    if not is_admin(user):
        raise NotAllowed("Only an admin of the lab may do this.")
