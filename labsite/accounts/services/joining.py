"""Let people in: an account is made by a one-time link and in no other way."""

from django.db import transaction
from django.utils import timezone

from labsite.accounts.models import Invite, User
from labsite.accounts.models.invites import Purpose
from labsite.accounts.services.audit import record_audit
from labsite.accounts.services.changes import check_fields
from labsite.accounts.services.invites import locked_open_invite
from labsite.accounts.services.lab import locked_lab
from labsite.accounts.services.passwords import password_problems


@transaction.atomic
def accept_invite(
    *, token: str, username: str, display_name: str, initials: str, password: str, email: str = ""
) -> User:
    """Make the account that an open invite promises; the invite is used up."""
    locked_lab()  # so that of two who want one user name, the second is told
    invite = locked_open_invite(token, Purpose.JOIN)
    return _join(invite, username, display_name, initials, password, email)


@transaction.atomic
def create_first_admin(
    *, token: str, username: str, display_name: str, initials: str, password: str, email: str = ""
) -> User:
    """Make the admin that an empty lab needs, by the link printed on its console."""
    locked_lab()  # so that of two links used at once, one makes an admin
    invite = locked_open_invite(token, Purpose.FIRST_ADMIN)
    return _join(invite, username, display_name, initials, password, email)


def _join(invite: Invite, username: str, display_name: str, initials: str, password: str, email: str) -> User:
    user = User(
        username=User.normalize_username(username),
        display_name=display_name.strip(),
        initials=initials.strip(),
        email=email.strip(),
        role=invite.role,
    )
    problems = password_problems(password, user, "password")
    check_fields(user, "username", "display_name", "initials", "email", also=problems)
    user.set_password(password)
    user.save()
    invite.used_by, invite.used_at = user, timezone.now()
    invite.save(update_fields=["used_by", "used_at"])
    after = {"username": user.username, "role": user.role, "invite": invite.pk}
    record_audit(actor=user, action="join lab", subject=user, after=after)
    return user
