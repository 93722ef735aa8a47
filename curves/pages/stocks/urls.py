"""Addresses of the stocks area."""

from django.urls import path

from curves.pages.stocks import (
    changes,
    downloads,
    lists,
    prices,
    published,
    published_files,
    relatives,
    sheet,
)

STOCK = "<int:stock_id>/"
SHEET = f"{STOCK}sheet/<slug:pair_key>/"
VERSION = f"{SHEET}<int:number>/"

urlpatterns = [
    path("", lists.stock_list, name="stock_list"),
    path("new/", changes.new, name="stock_new"),
    path(STOCK, sheet.stock, name="stock"),
    path(f"{STOCK}edit/", changes.edit, name="stock_edit"),
    path(f"{STOCK}batches/new/", changes.new_batch, name="batch_new"),
    path(f"{STOCK}relatives/", relatives.relatives, name="stock_relatives"),
    path(f"{STOCK}measures.csv", downloads.measures_csv, name="stock_measures_csv"),
    path(f"{STOCK}curve.csv", downloads.curve_csv, name="stock_curve_csv"),
    path(f"{STOCK}prices/", prices.price_list, name="stock_prices"),
    path(f"{STOCK}prices/new/", prices.new_price, name="price_new"),
    path(f"{STOCK}prices/<int:price_id>/strike/", prices.strike, name="price_strike"),
    path(f"{STOCK}sheet/", published.newest_of_any, name="stock_sheets"),
    path(SHEET, published.newest, name="stock_sheet"),
    path(f"{SHEET}publish/", published.publish, name="stock_sheet_publish"),
    path(VERSION, published.version, name="stock_sheet_version"),
    path(f"{VERSION}figure.svg", published_files.figure, name="stock_sheet_figure"),
    path(f"{VERSION}edge.png", published_files.picture, name="stock_sheet_picture"),
    path(f"{VERSION}data.<slug:file_kind>", published_files.data, name="stock_sheet_data"),
]
