"""Set a password anew: by the present one, or by a one-time link when it is forgotten."""

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from labsite.accounts.models import User
from labsite.accounts.models.invites import Purpose
from labsite.accounts.services.audit import record_audit
from labsite.accounts.services.invites import locked_open_invite
from labsite.accounts.services.lab import locked_lab
from labsite.accounts.services.sign_in import account_key, counted_check
from labsite.common.access import require_member
from labsite.common.errors import InvalidInput, WrongState


def change_password(*, actor: User, current_password: str, new_password: str) -> User:
    """Set a new password; every other session of the account ends.

    The check of the current one counts towards the sign-in limit, so that a session left open on a
    shared machine is no way to guess it.
    """
    require_member(actor)
    with counted_check(account_key(actor.username)):
        if not actor.check_password(current_password):
            raise InvalidInput("That is not your present password.", field="current_password")
    with transaction.atomic():
        person = locked_account(actor.pk)
        _set_password(person, new_password)
        record_audit(actor=actor, action="change password", subject=person)
    return person


@transaction.atomic
def renew_password(*, token: str, new_password: str) -> User:
    """Set the password of the account that an open link is for; every session of it ends."""
    locked_lab()  # as retirement does, so that the two can't wait for each other's rows
    invite = locked_open_invite(token, Purpose.NEW_PASSWORD)
    person = locked_account(invite.person_id)
    if not person.is_active:
        raise WrongState(f"{person} is retired. Ask an admin to reactivate the account.")
    _set_password(person, new_password)
    invite.used_by, invite.used_at = person, timezone.now()
    invite.save(update_fields=["used_by", "used_at"])
    record_audit(actor=person, action="renew password", subject=person)
    return person


def password_problems(password: str, user: User, field: str) -> tuple[dict, ...]:
    """Return what is wrong with a new password, as problems of a form field."""
    try:
        validate_password(password, user)
    except ValidationError as fault:
        return tuple({"field": field, "message": message} for message in fault.messages)
    return ()


def locked_account(person_id: int) -> User:
    """Return an account's row, locked until the end of the transaction."""
    return User.objects.select_for_update().get(pk=person_id)


def _set_password(person: User, new_password: str) -> None:
    problems = password_problems(new_password, person, "new_password")
    if problems:
        raise InvalidInput(problems[0]["message"], field="new_password", problems=problems)
    person.set_password(new_password)
    person.session_epoch += 1
    person.save(update_fields=["password", "session_epoch"])
