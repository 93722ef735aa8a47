"""Change one's own account."""

from django.db import transaction

from labsite.accounts.models import User
from labsite.accounts.services.audit import record_audit
from labsite.accounts.services.changes import change_fields
from labsite.accounts.services.joining import password_problems
from labsite.accounts.services.sign_in import account_key, counted_check
from labsite.common.access import require_member
from labsite.common.errors import InvalidInput


@transaction.atomic
def update_profile(*, actor: User, display_name: str, initials: str, email: str, credit: str) -> User:
    """Set one's name, initials, email and how one is named on sheets."""
    require_member(actor)
    person = _locked_self(actor)
    before, after = change_fields(
        person, display_name=display_name, initials=initials, email=email, credit=credit
    )
    if after:
        record_audit(actor=actor, action="update profile", subject=person, before=before, after=after)
    return person


def change_password(*, actor: User, current_password: str, new_password: str) -> User:
    """Set a new password; every other session of the account ends.

    The check of the current one counts towards the sign-in limit, so that a session left open on a
    shared machine is no way to guess it.
    """
    require_member(actor)
    with counted_check(account_key(actor.username)):
        if not actor.check_password(current_password):
            raise InvalidInput("That is not your present password.", field="current_password")
    problems = password_problems(new_password, actor, "new_password")
    if problems:
        raise InvalidInput(problems[0]["message"], field="new_password", problems=problems)
    with transaction.atomic():
        person = _locked_self(actor)
        person.set_password(new_password)
        person.session_epoch += 1
        person.save(update_fields=["password", "session_epoch"])
        record_audit(actor=actor, action="change password", subject=person)
    return person


@transaction.atomic
def sign_out_everywhere(*, actor: User) -> User:
    """End every session of one's account, on every device; access tokens stay."""
    require_member(actor)
    person = _locked_self(actor)
    person.session_epoch += 1
    person.save(update_fields=["session_epoch"])
    record_audit(actor=actor, action="sign out everywhere", subject=person)
    return person


def _locked_self(actor: User) -> User:
    return User.objects.select_for_update().get(pk=actor.pk)
