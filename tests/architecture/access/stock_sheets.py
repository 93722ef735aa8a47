"""Who gets what of prices and of published stock sheets."""

from datetime import date

from curves.models import SheetVersion
from curves.services.prices import enter_price

PAGES = """
# method route                   thing            owner labmate admin open closed stranger
GET   stock_prices               -                200 200 200 200 302 302
GET   price_new                  -                200 200 200 302 302 302
POST  price_new                  -                400 400 400 403 403 403
GET   price_strike               price            200 200 200 302 302 302
POST  price_strike               price            400 400 400 403 403 403
GET   stock_sheets               sheet            302 302 302 302 302 302
GET   stock_sheet                sheet            200 200 200 200 302 302
GET   stock_sheet_version        sheet            200 200 200 200 302 302
GET   stock_sheet_figure         sheet            200 200 200 200 302 302
GET   stock_sheet_picture        sheet            404 404 404 404 302 302
GET   stock_sheet_data           sheet            200 200 200 200 302 302
GET   stock_sheet_publish        sheet            403 403 200 302 302 302
POST  stock_sheet_publish        sheet            403 403 400 403 403 403
"""

OPERATIONS = """
# method route                   thing            owner labmate admin open closed stranger
GET    api_prices                -                  200 200 200 200 401 401
POST   api_prices                -                  400 400 400 401 401 401
POST   api_price_strike          price              200 403 200 401 401 401
GET    api_sheets                -                  200 200 200 200 401 401
GET    api_sheet                 sheet              200 200 200 200 401 401
POST   api_sheet_publish         sheet              403 403 200 401 401 401
"""

BODIES = {
    "api_price_strike": {"reason": "wrong pack"},
    "api_sheet_publish": {"reason": "new prices"},
}


def things(lab) -> tuple[dict, dict]:
    """Make a price of the owner's; the sheet was published when the stock's roll was accepted."""
    price = enter_price(
        actor=lab.people["owner"],
        stock_id=lab.known["stock_id"],
        kind="sheets",
        film_format="9 × 12 cm",
        price="30.00",
        currency="EUR",
        priced_on=date(2026, 5, 4),
        source="mail order",
        count=25,
    )
    version = SheetVersion.objects.filter(stock=lab.known["stock_id"]).first()
    number = version.number
    place = {"pair_key": version.pair_key, "number": number, "version_number": number, "file_kind": "csv"}
    return {}, {"price": {"price_id": price.pk}, "sheet": place}
