"""Comparisons that were kept: saved ones of the lab's members, and frozen ones for all who may read."""

from dataclasses import dataclass

from django.db.models import QuerySet

from curves.models import EquivalenceMargins, FrozenComparison, SavedComparison, StockResult
from curves.sensitometry import Analysis
from labsite.accounts.queries import may_read_accepted
from labsite.common.access import is_member
from labsite.common.errors import NotFound


@dataclass(frozen=True)
class FrozenName:
    """A stock by the name that it had when it was frozen."""

    pk: int
    name: str


@dataclass(frozen=True)
class FrozenStock:
    """One stock of a frozen comparison with the curve that is pinned to it."""

    stock: FrozenName
    analysis: Analysis
    is_reference: bool
    other_standards: str


@dataclass(frozen=True)
class FrozenCurves:
    """What a frozen comparison is drawn from; like a ComparisonView as far as drawing goes."""

    reference: FrozenStock | None
    stocks: tuple[FrozenStock, ...]

    @property
    def mixed(self) -> tuple[FrozenStock, ...]:
        """Stocks whose result stands under other standards than the rest."""
        return tuple(stock for stock in self.stocks if stock.other_standards)


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


def frozen_curves(frozen: FrozenComparison) -> FrozenCurves:
    """Return the curves of the pinned results, which never change, in the order of the document."""
    pinned = {result.pk: result for result in frozen.results.all()}
    stocks = tuple(
        FrozenStock(
            stock=FrozenName(line["stock_id"], line["stock"]),
            analysis=Analysis.from_dict(pinned[line["result"]].as_dict()),
            is_reference=line["is_reference"],
            other_standards=line["standards"] if line["is_mixed_in"] else "",
        )
        for line in frozen.document["stocks"]
    )
    return FrozenCurves(next((stock for stock in stocks if stock.is_reference), None), stocks)


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
