"""Who may: the three roles, asked in one place.

Users are taken by shape (``is_authenticated``, ``is_active``, ``role``, ``lacks_second_factor``), since
this package lies below the accounts app.
"""

from labsite.common.errors import NotAllowed

MEMBER = "member"
ADMIN = "admin"

SECOND_FACTOR_REQUIRED = "second_factor_required"
HOW_TO_MEND = (
    "This lab asks its admins for a second factor, and you have none yet: until it is set up on the page"
    " Your account, Second factor, you may do only what a member may."
)


def is_member(user) -> bool:
    """Whether the person belongs to the lab (admins do)."""
    return bool(getattr(user, "is_authenticated", False) and user.is_active)


def is_admin(user) -> bool:
    """Whether the person may fix standards, review rolls and invite people."""
    return is_member(user) and user.role == ADMIN and not user.lacks_second_factor


def waits_for_second_factor(user) -> bool:
    """Whether this is an admin who may act as a member only, for want of a second factor."""
    return is_member(user) and user.role == ADMIN and user.lacks_second_factor


def require_member(user) -> None:
    """Raise NotAllowed unless the person is signed in as a member."""
    if not is_member(user):
        raise NotAllowed("Sign in as a member of the lab to do this.")


def require_admin(user) -> None:
    """Raise NotAllowed unless the person is an admin of the lab."""
    require_member(user)
    if waits_for_second_factor(user):
        raise NotAllowed(HOW_TO_MEND, code=SECOND_FACTOR_REQUIRED)
    if not is_admin(user):
        raise NotAllowed("Only an admin of the lab may do this.")


def explained(error: Exception, user) -> Exception:
    """Return a refusal, with what would lift it where an admin is refused for want of a second factor."""
    if not isinstance(error, NotAllowed) or error.code == SECOND_FACTOR_REQUIRED:
        return error
    if not waits_for_second_factor(user):
        return error
    return NotAllowed(f"{error.message} {HOW_TO_MEND}", code=SECOND_FACTOR_REQUIRED)
