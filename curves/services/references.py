"""The house reference: appointed by an admin, one at a time for each pair of standards."""

from django.db import transaction
from django.utils import timezone

from curves.models import HouseReference, ProcessRevision, StockResult
from curves.services.sheets import request_sheets_under
from curves.services.standard_kinds import refused_on_conflict
from labsite.accounts.services import record_audit
from labsite.common.access import require_admin
from labsite.common.errors import InvalidInput, WrongState


@transaction.atomic
def appoint_reference(
    *, actor, stock_id: int, process_revision_id: int, exposure_revision_id: int, reason: str = ""
) -> HouseReference:
    """Make a stock with accepted rolls the house reference; the one before it is kept as history."""
    require_admin(actor)
    # Two first appointments have no row in common to lock but the revision's.
    ProcessRevision.objects.select_for_update(of=("self",)).filter(pk=process_revision_id).first()
    pair = {"process_revision_id": process_revision_id, "exposure_revision_id": exposure_revision_id}
    result = StockResult.objects.select_related("stock").filter(stock_id=stock_id, **pair).first()
    if result is None:
        raise InvalidInput(
            "That stock has no accepted roll under these standards; a reference needs at least one.",
            field="stock_id",
        )
    before = HouseReference.objects.select_related("stock").filter(**pair, ended_at__isnull=True).first()
    if before is not None and before.stock_id == stock_id:
        raise InvalidInput(f"{result.stock} is the house reference already.", field="stock_id")
    if before is not None:
        before.ended_at = timezone.now()
        before.save(update_fields=["ended_at"])
    with refused_on_conflict(WrongState("Another reference was appointed meanwhile. Look at it first.")):
        reference = HouseReference.objects.create(
            stock_id=stock_id, **pair, reason=reason.strip(), appointed_by=actor
        )
    record_audit(
        actor=actor,
        action="appoint house reference",
        subject=reference,
        before={"stock": str(before.stock)} if before else None,
        after={"stock": str(result.stock)},
        reason=reason,
    )
    request_sheets_under(**pair, requested_by=actor)
    return reference
