"""What a frame of each stock costs, from the newest price of each form; nothing where none was entered."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from curves.models import PriceEntry


@dataclass(frozen=True)
class FrameCost:
    """The newest price of each form that a stock is sold in, the one with the cheapest frame first."""

    prices: tuple[PriceEntry, ...]

    @property
    def cheapest(self) -> PriceEntry:
        """The form whose frame costs least."""
        return self.prices[0]

    @property
    def value(self) -> Decimal:
        """What a frame of it costs, in its currency."""
        return self.cheapest.cost_per_frame

    @property
    def currency(self) -> str:
        """The currency of that price."""
        return self.cheapest.currency

    @property
    def text(self) -> str:
        """The cost, to a thousandth of the currency."""
        return f"{self.value.quantize(Decimal('0.001'))}"

    @property
    def words(self) -> str:
        """What the cost is of: currency, form, format and month."""
        price = self.cheapest
        return f"{price.currency}, {price.get_kind_display()}, {price.film_format}, {price.priced_on:%Y-%m}"

    @property
    def others(self) -> tuple[PriceEntry, ...]:
        """The other forms in the same currency."""
        return tuple(price for price in self.prices[1:] if price.currency == self.currency)


@dataclass(frozen=True)
class FrameCosts:
    """Stock → what its frames cost; the currency is the one in which most prices are."""

    by_stock: dict[int, FrameCost]
    currency: str

    @property
    def other_currencies(self) -> tuple[str, ...]:
        """Currencies of stocks without a price in the common one: shown, but in no order and no filter."""
        return tuple(sorted({found.currency for found in self.by_stock.values()} - {self.currency}))

    @property
    def comparable(self) -> dict[int, float]:
        """Stock → cost in the common currency: what can be put in order; others are not converted."""
        return {
            pk: float(found.value) for pk, found in self.by_stock.items() if found.currency == self.currency
        }


def frame_costs(stock_ids: Iterable[int] | None = None, *, film_format: str = "") -> FrameCosts:
    """Return what frames cost, of these stocks or of all, in one format or in whichever is cheapest.

    By one query; who may see the stocks may see their prices.
    """
    entries = PriceEntry.objects.filter(struck_at__isnull=True)
    if stock_ids is not None:
        entries = entries.filter(stock__in=list(stock_ids))
    newest: dict[int, dict[tuple[str, str], PriceEntry]] = {}
    for price in entries:
        if not film_format or price.film_format.casefold() == film_format.casefold():
            forms = newest.setdefault(price.stock_id, {})
            forms.setdefault((price.kind, price.film_format.casefold()), price)
    counts = Counter(price.currency for forms in newest.values() for price in forms.values())
    common = min(counts, key=lambda name: (-counts[name], name), default="")
    by_stock = {
        stock_id: FrameCost(
            tuple(sorted(forms.values(), key=lambda p: (p.currency != common, p.currency, p.cost_per_frame)))
        )
        for stock_id, forms in newest.items()
    }
    return FrameCosts(by_stock, common)
