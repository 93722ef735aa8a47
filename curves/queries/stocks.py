"""Film stocks and their standing results: who may see which."""

from django.db.models import Exists, OuterRef, QuerySet

from curves.models import FilmStock, StockResult
from labsite.accounts.models import Lab
from labsite.accounts.queries import current_lab
from labsite.common.access import is_member


def visible_stocks(user) -> QuerySet[FilmStock]:
    """Return the stocks that this person may see: members all, visitors those with a result."""
    if is_member(user):
        return FilmStock.objects.all()
    if current_lab().is_open_to_visitors:
        # Not by a join: its rows would have to be made distinct, for which every column is looked at.
        return FilmStock.objects.filter(Exists(StockResult.objects.filter(stock=OuterRef("pk"))))
    return FilmStock.objects.none()


def visible_results(user) -> QuerySet[StockResult]:
    """Return the standing results that this person may see, with what their labels need."""
    results = StockResult.objects.select_related(
        "stock", "pooled", "process_revision__standard", "exposure_revision__standard"
    )
    if is_member(user):
        return results
    # Within the query, as a page asks for results in several ways; a lab never set up is closed.
    return results.filter(Exists(Lab.objects.filter(is_open_to_visitors=True)))
