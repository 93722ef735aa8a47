"""Film stocks as people see them, with the results that stand for them."""

from dataclasses import dataclass

from django.db.models import Count, Max, Q, QuerySet

from curves.models import Batch, FilmStock, HouseReference, Roll, RollState, StockResult
from labsite.accounts.queries import current_lab
from labsite.common.access import is_member
from labsite.common.errors import NotFound


def visible_stocks(user) -> QuerySet[FilmStock]:
    """Return the stocks that this person may see: members all, visitors those with a result."""
    if is_member(user):
        return FilmStock.objects.all()
    if current_lab().is_open_to_visitors:
        return FilmStock.objects.filter(results__isnull=False).distinct()
    return FilmStock.objects.none()


def visible_results(user) -> QuerySet[StockResult]:
    """Return the standing results that this person may see, with what their labels need."""
    results = StockResult.objects.select_related(
        "stock", "pooled", "process_revision__standard", "exposure_revision__standard"
    )
    if is_member(user) or current_lab().is_open_to_visitors:
        return results
    return results.none()


def stocks_with_counts(user) -> QuerySet[FilmStock]:
    """Return visible stocks with how many rolls of them are accepted and when the last one was."""
    rolls = "batches__rolls"
    accepted = Q(**{f"{rolls}__state": RollState.ACCEPTED})
    stocks = visible_stocks(user).annotate(
        accepted_count=Count(rolls, filter=accepted, distinct=True),
        newest_accepted_at=Max(f"{rolls}__accepted_at", filter=accepted),
    )
    if is_member(user):
        stocks = stocks.annotate(roll_count=Count(rolls, distinct=True))
    return stocks


@dataclass(frozen=True)
class StockPage:
    """Everything that a stock's page shows."""

    stock: FilmStock
    batches: tuple[Batch, ...]
    results: tuple[StockResult, ...]
    rolls: tuple[Roll, ...]
    references: tuple[HouseReference, ...]


def stock_page(user, stock_id: int) -> StockPage:
    """Return what the page of one stock shows to this person."""
    stock = visible_stocks(user).filter(pk=stock_id).first()
    if stock is None:
        raise NotFound("There is no such stock, or it is not open to you.")
    rolls = Roll.objects.filter(batch__stock=stock).select_related(
        "batch", "process_revision__standard", "exposure_revision__standard", "run", "member"
    )
    if not is_member(user):
        rolls = rolls.filter(state=RollState.ACCEPTED)
    return StockPage(
        stock=stock,
        batches=tuple(stock.batches.all()) if is_member(user) else (),
        results=tuple(visible_results(user).filter(stock=stock).order_by("-process_revision_id")),
        rolls=tuple(rolls),
        references=tuple(
            HouseReference.objects.filter(stock=stock, ended_at__isnull=True).select_related(
                "process_revision__standard", "exposure_revision__standard"
            )
        ),
    )
