"""Addresses of prices and published sheets for scripts."""

from django.urls import path

from curves.api import prices, sheets

STOCK = "stocks/<int:stock_id>/"
PAIR = f"{STOCK}sheets/<slug:pair_key>/"

SHEET_URLS = [
    path(f"{STOCK}prices/", prices.Prices.as_view(), name="api_prices"),
    path(f"{STOCK}prices/<int:price_id>/strike/", prices.StrikePrice.as_view(), name="api_price_strike"),
    path(f"{STOCK}sheets/", sheets.SheetVersions.as_view(), name="api_sheets"),
    path(f"{PAIR}publish/", sheets.PublishSheet.as_view(), name="api_sheet_publish"),
    path(f"{PAIR}<int:version_number>/", sheets.OneSheetVersion.as_view(), name="api_sheet"),
]
