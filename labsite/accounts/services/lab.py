"""Change the settings of the lab."""

from django.db import transaction

from labsite.accounts.models import Lab, User
from labsite.accounts.queries import has_second_factor
from labsite.accounts.services.audit import record_audit
from labsite.accounts.services.changes import change_fields
from labsite.common.access import require_admin
from labsite.common.errors import WrongState


def locked_lab() -> Lab:
    """Return the lab's row, locked until the end of the transaction; the first call makes it.

    What must not happen twice at once (a first admin, the last admin leaving) queues on this lock.
    """
    return Lab.objects.select_for_update().get_or_create(pk=Lab.ONLY_ID)[0]


@transaction.atomic
def update_lab(
    *,
    actor: User,
    name: str,
    contact: str,
    is_open_to_visitors: bool,
    admins_need_second_factor: bool | None = None,
) -> Lab:
    """Set the lab's name, its contact, whether visitors may read, and whether admins need a second factor.

    Without a word on the last it stays as it is. Only who has a second factor may ask it of the others.
    """
    require_admin(actor)
    row = locked_lab()
    if admins_need_second_factor is None:
        admins_need_second_factor = row.admins_need_second_factor
    elif admins_need_second_factor and not has_second_factor(actor):
        message = "Set up your own second factor first, or you would shut yourself out of this page."
        raise WrongState(message, field="admins_need_second_factor", code="own_second_factor_first")
    before, after = change_fields(
        row,
        name=name,
        contact=contact,
        is_open_to_visitors=is_open_to_visitors,
        admins_need_second_factor=admins_need_second_factor,
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
