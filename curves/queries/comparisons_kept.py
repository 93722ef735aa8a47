"""Comparisons that were kept: saved ones of the lab's members, and frozen ones for all who may read."""

from django.db.models import QuerySet

from curves.models import EquivalenceMargins, FrozenComparison, SavedComparison, StockResult
from labsite.accounts.queries import may_read_accepted
from labsite.common.access import is_member
from labsite.common.errors import NotFound


def visible_saved(user) -> QuerySet[SavedComparison]:
    """Return the saved comparisons that this person may open: those of all members, for members."""
    saved = SavedComparison.objects.select_related("owner")
    return saved if is_member(user) else saved.none()


def visible_frozen(user) -> QuerySet[FrozenComparison]:
    """Return the frozen comparisons that this person may read, newest first, without their tables."""
    frozen = FrozenComparison.objects.select_related("frozen_by").defer("table", "document")
    return frozen if may_read_accepted(user) else frozen.none()


def frozen_comparison(user, code: str) -> FrozenComparison:
    """Return one frozen comparison by its code; NotFound otherwise."""
    found = visible_frozen(user).defer(None).filter(code=code).first()
    if found is None:
        raise NotFound("There is no frozen comparison with this code, or it is not open to you.")
    return found


def newer_results_than(frozen: FrozenComparison) -> tuple[str, ...]:
    """Return the stocks whose standing result is another one than the frozen."""
    pinned = {stock["stock_id"]: stock["result"] for stock in frozen.document["stocks"]}
    standing = StockResult.objects.filter(
        stock_id__in=pinned,
        process_revision_id=frozen.process_revision_id,
        exposure_revision_id=frozen.exposure_revision_id,
    )
    now = dict(standing.values_list("stock_id", "pooled_id"))
    return tuple(
        stock["stock"]
        for stock in frozen.document["stocks"]
        if not stock["is_mixed_in"] and now.get(stock["stock_id"]) != stock["result"]
    )


def margins_in_force() -> EquivalenceMargins | None:
    """Return the lab's margins; None before anybody has set them, when the house's own hold."""
    return EquivalenceMargins.objects.select_related("set_by").first()


def margins_history() -> QuerySet[EquivalenceMargins]:
    """Return all margins that were ever in force, newest first."""
    return EquivalenceMargins.objects.select_related("set_by")
