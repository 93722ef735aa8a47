"""Invite people, and let them in: an account is made by a one-time link and in no other way."""

from dataclasses import dataclass
from datetime import timedelta

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from labsite.accounts.models import Invite, User
from labsite.accounts.models.secrets import hash_token, new_token
from labsite.accounts.queries import has_active_admin, open_invite
from labsite.accounts.services.audit import record_audit
from labsite.accounts.services.changes import check_fields
from labsite.accounts.services.lab import locked_lab
from labsite.common.access import ADMIN, require_admin
from labsite.common.errors import InvalidInput, NotFound, WrongState

INVITE_DAYS = 7
INVITE_DAYS_MAX = 60
# The console may be read later by others, so its link dies sooner; every start prints a new one.
FIRST_ADMIN_HOURS = 24


@dataclass(frozen=True)
class NewInvite:
    """An invite and the token of its link, which is known only now."""

    invite: Invite
    token: str


@transaction.atomic
def create_invite(*, actor: User, role: str, note: str = "", days: int = INVITE_DAYS) -> NewInvite:
    """Make a link with which one person may join in this role until it expires."""
    require_admin(actor)
    if not 1 <= days <= INVITE_DAYS_MAX:
        raise InvalidInput(f"An invite lasts 1 to {INVITE_DAYS_MAX} days.", field="days")
    token = new_token()
    invite = Invite(
        token_hash=hash_token(token),
        role=role,
        note=note.strip(),
        created_by=actor,
        expires_at=timezone.now() + timedelta(days=days),
    )
    check_fields(invite, "role", "note")
    invite.save()
    after = {"role": role, "note": invite.note, "expires_at": invite.expires_at}
    record_audit(actor=actor, action="create invite", subject=invite, after=after)
    return NewInvite(invite, token)


@transaction.atomic
def revoke_invite(*, actor: User, invite_id: int) -> Invite:
    """Make an unused invite worthless."""
    require_admin(actor)
    invite = Invite.objects.select_for_update().filter(pk=invite_id).first()
    if invite is None:
        raise NotFound("There is no such invite.")
    if invite.state in ("used", "revoked"):
        raise WrongState(f"This invite was {invite.state} already.")
    invite.revoked_at = timezone.now()
    invite.save(update_fields=["revoked_at"])
    record_audit(actor=actor, action="revoke invite", subject=invite)
    return invite


@transaction.atomic
def accept_invite(
    *, token: str, username: str, display_name: str, initials: str, password: str, email: str = ""
) -> User:
    """Make the account that an open invite promises; the invite is used up."""
    locked_lab()  # so that of two who want one user name, the second is told
    invite = _locked_open_invite(token, is_first_admin=False)
    return _join(invite, username, display_name, initials, password, email)


@transaction.atomic
def create_first_admin(
    *, token: str, username: str, display_name: str, initials: str, password: str, email: str = ""
) -> User:
    """Make the admin that an empty lab needs, by the link printed on its console."""
    locked_lab()
    invite = _locked_open_invite(token, is_first_admin=True)
    return _join(invite, username, display_name, initials, password, email)


@transaction.atomic
def first_admin_link() -> str | None:
    """Return the path of a new one-time link for the first admin, or None when the lab has one.

    Commands that serve the site print it. Links of earlier starts stay good until they expire, as
    several processes may start at once; all are worthless as soon as there is an admin.
    """
    if has_active_admin():
        return None
    token = new_token()
    expires_at = timezone.now() + timedelta(hours=FIRST_ADMIN_HOURS)
    invite = Invite.objects.create(
        token_hash=hash_token(token),
        role=ADMIN,
        note="First admin",
        is_first_admin=True,
        expires_at=expires_at,
    )
    record_audit(actor=None, action="print first-admin link", subject=invite)
    return reverse("accounts:first_admin", args=[token])


def _locked_open_invite(token: str, *, is_first_admin: bool) -> Invite:
    invite = open_invite(token, is_first_admin=is_first_admin)
    # Looked at again under the lock: of two people who use one link at once, one joins.
    Invite.objects.select_for_update().get(pk=invite.pk)
    return open_invite(token, is_first_admin=is_first_admin)


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


def password_problems(password: str, user: User, field: str) -> tuple[dict, ...]:
    """Return what is wrong with a new password, as problems of a form field."""
    try:
        validate_password(password, user)
    except ValidationError as fault:
        return tuple({"field": field, "message": message} for message in fault.messages)
    return ()
