"""Make and withdraw the one-time links by which people get in."""

from dataclasses import dataclass
from datetime import timedelta

from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from labsite.accounts.models import Invite, User
from labsite.accounts.models.invites import Purpose
from labsite.accounts.models.secrets import hash_token, new_token
from labsite.accounts.queries import has_active_admin, open_invite, person_visible_to
from labsite.accounts.services.audit import record_audit
from labsite.accounts.services.changes import check_fields
from labsite.common.access import ADMIN, require_admin
from labsite.common.errors import InvalidInput, NotFound, WrongState

INVITE_DAYS = 7
INVITE_DAYS_MAX = 60
# The console may be read later by others, and a link to an account that exists opens more than one
# to join, so these die sooner. Every start of the site prints a new link for the first admin.
SHORT_HOURS = 24


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
    made = _new_invite(timedelta(days=days), created_by=actor, role=role, note=note.strip())
    after = {"role": role, "note": made.invite.note, "expires_at": made.invite.expires_at}
    record_audit(actor=actor, action="create invite", subject=made.invite, after=after)
    return made


@transaction.atomic
def create_password_link(*, actor: User, person_id: int) -> NewInvite:
    """Make a link with which a person who forgot the password sets a new one; earlier ones end."""
    require_admin(actor)
    person = person_visible_to(actor, person_id)
    if not person.is_active:
        raise WrongState(f"{person} is retired. Reactivate the account first.")
    earlier = Invite.objects.filter(person=person, used_at=None, revoked_at=None)
    earlier.update(revoked_at=timezone.now())
    made = _new_invite(
        timedelta(hours=SHORT_HOURS),
        created_by=actor,
        purpose=Purpose.NEW_PASSWORD,
        person=person,
        role=person.role,
        note=f"New password for {person.username}",
    )
    record_audit(actor=actor, action="create password link", subject=person)
    return made


@transaction.atomic
def first_admin_link() -> str | None:
    """Return the path of a new one-time link for the first admin, or None when the lab has one.

    Commands that serve the site print it. Links of earlier starts stay good until they expire, as
    several processes may start at once; all are worthless as soon as there is an admin.
    """
    if has_active_admin():
        return None
    made = _new_invite(
        timedelta(hours=SHORT_HOURS), purpose=Purpose.FIRST_ADMIN, role=ADMIN, note="First admin"
    )
    record_audit(actor=None, action="print first-admin link", subject=made.invite)
    return reverse("accounts:first_admin", args=[made.token])


@transaction.atomic
def revoke_invite(*, actor: User, invite_id: int) -> Invite:
    """Make an unused link worthless."""
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


def locked_open_invite(token: str, purpose: Purpose) -> Invite:
    """Return the invite behind a link, locked; of two who use a link at once, the second is refused."""
    invite = open_invite(token, purpose)
    Invite.objects.select_for_update().get(pk=invite.pk)
    return open_invite(token, purpose)


def _new_invite(lifetime: timedelta, **fields) -> NewInvite:
    token = new_token()
    invite = Invite(token_hash=hash_token(token), expires_at=timezone.now() + lifetime, **fields)
    check_fields(invite, "role", "note")
    invite.save()
    return NewInvite(invite, token)
