"""Change one's own account."""

from django.db import transaction

from labsite.accounts.models import User
from labsite.accounts.services.audit import record_audit
from labsite.accounts.services.changes import change_fields
from labsite.accounts.services.passwords import locked_account
from labsite.common.access import require_member


@transaction.atomic
def update_profile(*, actor: User, display_name: str, initials: str, email: str, credit: str) -> User:
    """Set one's name, initials, email and how one is named on sheets."""
    require_member(actor)
    person = locked_account(actor.pk)
    before, after = change_fields(
        person, display_name=display_name, initials=initials, email=email, credit=credit
    )
    if after:
        record_audit(actor=actor, action="update profile", subject=person, before=before, after=after)
    return person


@transaction.atomic
def sign_out_everywhere(*, actor: User) -> User:
    """End every session of one's account, on every device; access tokens stay."""
    require_member(actor)
    person = locked_account(actor.pk)
    person.session_epoch += 1
    person.save(update_fields=["session_epoch"])
    record_audit(actor=actor, action="sign out everywhere", subject=person)
    return person
