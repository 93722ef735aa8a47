"""The house reference: appointed by an admin, one at a time for each pair of standards."""

from django.db import transaction
from django.utils import timezone

from curves.models import HouseReference, StockResult
from labsite.accounts.services import record_audit
from labsite.common.access import require_admin
from labsite.common.errors import InvalidInput


@transaction.atomic
def appoint_reference(
    *, actor, stock_id: int, process_revision_id: int, exposure_revision_id: int, reason: str = ""
) -> HouseReference:
    """Make a stock with accepted rolls the house reference; the one before it is kept as history."""
    require_admin(actor)
    result = (
        StockResult.objects.select_related("stock")
        .filter(
            stock_id=stock_id,
            process_revision_id=process_revision_id,
            exposure_revision_id=exposure_revision_id,
        )
        .first()
    )
    if result is None:
        raise InvalidInput(
            "That stock has no accepted roll under these standards; a reference needs at least one.",
            field="stock",
        )
    standing = HouseReference.objects.select_for_update().filter(
        process_revision_id=process_revision_id,
        exposure_revision_id=exposure_revision_id,
        ended_at__isnull=True,
    )
    before = standing.first()
    if before is not None and before.stock_id == stock_id:
        raise InvalidInput(f"{result.stock} is the house reference already.", field="stock")
    standing.update(ended_at=timezone.now())
    reference = HouseReference.objects.create(
        stock_id=stock_id,
        process_revision_id=process_revision_id,
        exposure_revision_id=exposure_revision_id,
        reason=reason.strip(),
        appointed_by=actor,
    )
    record_audit(
        actor=actor,
        action="appoint house reference",
        subject=reference,
        before={"stock": str(before.stock)} if before else None,
        after={"stock": str(result.stock)},
        reason=reason,
    )
    return reference
