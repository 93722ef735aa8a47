"""Change the settings of the lab."""

from django.db import transaction

from labsite.accounts.models import Lab, User
from labsite.accounts.services.audit import record_audit
from labsite.accounts.services.changes import change_fields
from labsite.common.access import require_admin


def locked_lab() -> Lab:
    """Return the lab's row, locked until the end of the transaction; the first call makes it.

    What must not happen twice at once (a first admin, the last admin leaving) queues on this lock.
    """
    return Lab.objects.select_for_update().get_or_create(pk=Lab.ONLY_ID)[0]


@transaction.atomic
def update_lab(*, actor: User, name: str, contact: str, is_open_to_visitors: bool) -> Lab:
    """Set the lab's name, its contact, and whether visitors may read."""
    require_admin(actor)
    row = locked_lab()
    before, after = change_fields(
        row,
        name=name,
        contact=contact,
        is_open_to_visitors=is_open_to_visitors,
    )
    if after:
        record_audit(actor=actor, action="update lab", subject=row, before=before, after=after)
    return row


@transaction.atomic
def mark_demo_lab(*, actor: User | None = None) -> Lab:
    """Mark everything in this lab as demo data, for good. Only the demo command calls this."""
    row = locked_lab()
    before, after = change_fields(row, is_demo=True)
    if after:
        record_audit(actor=actor, action="mark as demo lab", subject=row, before=before, after=after)
    return row
