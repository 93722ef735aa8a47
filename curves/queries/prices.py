"""What a stock costs: every price that was entered, and the newest of each form it is sold in."""

from django.db.models import QuerySet

from curves.models import FilmStock, PriceEntry
from curves.queries.stock_sheet import visible_stock
from labsite.common.errors import NotFound


def prices_of(user, stock_id: int) -> tuple[FilmStock, QuerySet[PriceEntry]]:
    """Return a stock that this person may see and all its prices, newest first, struck ones too."""
    stock = visible_stock(user, stock_id)
    return stock, stock.prices.select_related("entered_by", "struck_by")


def visible_price(user, stock_id: int, price_id: int) -> PriceEntry:
    """Return one price of a stock that this person may see; NotFound otherwise."""
    stock, prices = prices_of(user, stock_id)
    price = prices.filter(pk=price_id).first()
    if price is None:
        raise NotFound(f"{stock} has no such price.")
    return price


def newest_prices(stock_id: int) -> list[PriceEntry]:
    """Return the newest price of each form and format that was not struck out."""
    newest: dict[tuple[str, str], PriceEntry] = {}
    for price in PriceEntry.objects.filter(stock_id=stock_id, struck_at__isnull=True):
        newest.setdefault((price.kind, price.film_format.casefold()), price)
    return sorted(newest.values(), key=lambda price: (price.kind != "pack", price.kind, price.film_format))


def price_document(price: PriceEntry) -> dict:
    """Return a price as sheets and files tell it; money as text, so that no digit is lost."""
    return {
        "id": price.pk,
        "kind": price.kind,
        "format": price.film_format,
        "content": price.content_words,
        "frames": price.frames,
        "price": str(price.price),
        "currency": price.currency,
        "cost_per_frame": str(price.cost_per_frame),
        "cassette_price": None if price.cassette_price is None else str(price.cassette_price),
        "cassette_uses": price.cassette_uses,
        "priced_on": price.priced_on.isoformat(),
        "source": price.source,
    }
