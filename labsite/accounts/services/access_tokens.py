"""Give out and take back the tokens with which scripts use the API."""

from dataclasses import dataclass
from datetime import timedelta

from django.db import transaction
from django.utils import timezone

from labsite.accounts.models import ApiToken, User
from labsite.accounts.models.secrets import hash_token, new_token
from labsite.accounts.services.audit import record_audit
from labsite.accounts.services.changes import check_fields
from labsite.common.access import require_member
from labsite.common.errors import NotAllowed, NotFound, WrongState

TOKEN_DAYS = 90
TOKEN_DAYS_MAX = 366
# Says what the text is when it turns up where it should not, and lets secret scanners find it.
PREFIX = "cg_"
# Noting every use would make each read of the API a write of the database.
USE_NOTED_EVERY_S = 60


@dataclass(frozen=True)
class NewToken:
    """A token's row and its secret, which is known only now."""

    row: ApiToken
    secret: str


@transaction.atomic
def issue_token(*, actor: User, name: str, days: int = TOKEN_DAYS, is_read_only: bool = True) -> NewToken:
    """Make a token that acts for one's own account until it expires."""
    require_member(actor)
    problems = ()
    if not 1 <= days <= TOKEN_DAYS_MAX:
        problems = ({"field": "days", "message": f"A token lasts 1 to {TOKEN_DAYS_MAX} days."},)
    secret = PREFIX + new_token()
    row = ApiToken(token_hash=hash_token(secret), user=actor, name=name.strip(), is_read_only=is_read_only)
    check_fields(row, "name", also=problems)
    row.expires_at = timezone.now() + timedelta(days=days)
    row.save()
    after = {"name": row.name, "is_read_only": is_read_only, "expires_at": row.expires_at}
    record_audit(actor=actor, action="issue token", subject=row, after=after)
    return NewToken(row, secret)


@transaction.atomic
def revoke_token(*, actor: User, token_id: int) -> ApiToken:
    """Make one of one's own tokens worthless."""
    require_member(actor)
    row = ApiToken.objects.select_for_update().filter(pk=token_id, user=actor).first()
    if row is None:
        raise NotFound("You have no such token.")
    if row.revoked_at:
        raise WrongState("This token was revoked already.")
    row.revoked_at = timezone.now()
    row.save(update_fields=["revoked_at"])
    record_audit(actor=actor, action="revoke token", subject=row)
    return row


def live_token(secret: str) -> ApiToken:
    """Return the token that a script presents and note its use, or refuse it."""
    row = ApiToken.objects.select_related("user").filter(token_hash=hash_token(secret)).first()
    if row is None or row.state != "active" or not row.user.is_active:
        raise NotAllowed("This token is unknown, revoked or expired.", code="bad_token")
    now = timezone.now()
    if row.last_used_at is None or (now - row.last_used_at).total_seconds() >= USE_NOTED_EVERY_S:
        ApiToken.objects.filter(pk=row.pk).update(last_used_at=now)
    return row
