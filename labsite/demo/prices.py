"""What some films of the demo lab cost: in cartridges, and where the club buys it so, in bulk."""

from datetime import date, timedelta
from decimal import Decimal

from curves.models import Batch, PriceKind
from curves.services.prices import enter_price

CARTRIDGES = {
    "Wrensfell 100": "8.40",
    "Wrensfell 400": "9.20",
    "Corvale Ortho 40": "11.50",
    "Saltern 320": "7.90",
}
"""Price of one cartridge of 36 frames."""
BULK = {"Wrensfell 100": "94.00", "Wrensfell 400": "102.00"}
"""Price of a bulk roll of 30.5 m."""


def enter_prices(*, member, batches: dict[str, Batch], today: date) -> None:
    """Enter cartridges, dearer than half a year before, and bulk rolls."""
    for name, price in CARTRIDGES.items():
        for days, share in ((200, Decimal("0.92")), (40, Decimal(1))):
            enter_price(
                actor=member,
                stock_id=batches[name].stock_id,
                kind=PriceKind.PACK,
                film_format="35 mm",
                price=(Decimal(price) * share).quantize(Decimal("0.01")),
                currency="EUR",
                priced_on=today - timedelta(days=days),
                source="mail order",
                frames_per_roll=36,
            )
    for name, price in BULK.items():
        enter_price(
            actor=member,
            stock_id=batches[name].stock_id,
            kind=PriceKind.BULK,
            film_format="35 mm",
            price=Decimal(price),
            currency="EUR",
            priced_on=today - timedelta(days=60),
            source="the club's own order",
            frames_per_roll=36,
            length_m=Decimal("30.5"),
            frames_per_metre=Decimal("26.3"),
            loss_m=Decimal("0.25"),
            cassette_price=Decimal("1.80"),
            cassette_uses=5,
        )
