"""Change what people may do, and let them go."""

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from labsite.accounts.models import ApiToken, Invite, User
from labsite.accounts.queries import has_second_factor
from labsite.accounts.services.audit import record_audit
from labsite.accounts.services.changes import change_fields
from labsite.accounts.services.lab import locked_lab
from labsite.accounts.services.second_factor import remove_factor
from labsite.common.access import ADMIN, require_admin
from labsite.common.errors import InvalidInput, NotFound, WrongState


@transaction.atomic
def change_role(*, actor: User, person_id: int, role: str, reason: str = "") -> User:
    """Make a member an admin, or an admin a member; the last admin stays one."""
    require_admin(actor)
    person = _locked_person(person_id)
    if not person.is_active:
        raise WrongState(f"{person} is retired. Reactivate the account first.")
    if role != ADMIN:
        _refuse_for_last_admin(person)
    before, after = change_fields(person, role=role)
    if after:
        if role != ADMIN:
            _revoke_open_invites(person)
        record_audit(
            actor=actor, action="change role", subject=person, before=before, after=after, reason=reason
        )
    return person


@transaction.atomic
def retire_user(*, actor: User, person_id: int, reason: str = "") -> User:
    """End a person's access at once: sessions, tokens and open invites. What they did stays."""
    require_admin(actor)
    person = _locked_person(person_id)
    if not person.is_active:
        raise WrongState(f"{person} is retired already.")
    _refuse_for_last_admin(person)
    person.is_active = False
    person.session_epoch += 1
    person.save(update_fields=["is_active", "session_epoch"])
    tokens = ApiToken.objects.filter(user=person, revoked_at=None).update(revoked_at=timezone.now())
    invites = _revoke_open_invites(person)
    after = {"is_active": False, "tokens_revoked": tokens, "invites_revoked": invites}
    record_audit(
        actor=actor,
        action="retire person",
        subject=person,
        before={"is_active": True},
        after=after,
        reason=reason,
    )
    return person


@transaction.atomic
def reactivate_user(*, actor: User, person_id: int, reason: str = "") -> User:
    """Let a retired person sign in again, with the role and password they had; old tokens stay dead."""
    require_admin(actor)
    person = _locked_person(person_id)
    if person.is_active:
        raise WrongState(f"{person} is active already.")
    before, after = change_fields(person, is_active=True)
    record_audit(
        actor=actor, action="reactivate person", subject=person, before=before, after=after, reason=reason
    )
    return person


@transaction.atomic
def take_second_factor(*, actor: User, person_id: int, reason: str) -> User:
    """Free another person of a second factor whose phone and codes are lost; their sessions end."""
    require_admin(actor)
    person = _locked_person(person_id)
    if person.pk == actor.pk:
        raise WrongState("Turn your own off on the page Your account, Second factor.")
    return _without_factor(person, actor=actor, reason=reason)


@transaction.atomic
def take_second_factor_at_console(*, username: str, reason: str) -> User:
    """Free an account of its second factor from the machine's console, where no other admin is left to."""
    known = User.objects.filter(username=User.normalize_username(username)).first()
    if known is None:
        raise NotFound(f"Nobody signs in as “{username}”.")
    return _without_factor(_locked_person(known.pk), actor=None, reason=reason)


def _without_factor(person: User, *, actor: User | None, reason: str) -> User:
    if not reason.strip():
        raise InvalidInput("Say why: it stays in the history.", field="reason")
    if not has_second_factor(person):
        raise WrongState(f"{person} has no second factor.")
    remove_factor(person, actor=actor, action="take second factor away", reason=reason)
    return person


def _locked_person(person_id: int) -> User:
    locked_lab()
    person = User.objects.select_for_update().filter(pk=person_id).first()
    if person is None:
        raise NotFound("There is no such person in this lab.")
    return person


def _refuse_for_last_admin(person: User) -> None:
    others = User.objects.filter(is_active=True, role=ADMIN).exclude(pk=person.pk)
    if person.role == ADMIN and not others.exists():
        raise WrongState(f"{person} is the only admin. Make someone else an admin first.", code="last_admin")


def _revoke_open_invites(person: User) -> int:
    unused = Invite.objects.filter(used_at=None, revoked_at=None)
    unused = unused.filter(Q(created_by=person) | Q(person=person))
    return unused.update(revoked_at=timezone.now())
