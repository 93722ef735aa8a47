"""Addresses of the stocks area."""

from django.urls import path

from curves.pages.stocks import changes, downloads, lists, relatives, sheet

STOCK = "<int:stock_id>/"

urlpatterns = [
    path("", lists.stock_list, name="stock_list"),
    path("new/", changes.new, name="stock_new"),
    path(STOCK, sheet.stock, name="stock"),
    path(f"{STOCK}edit/", changes.edit, name="stock_edit"),
    path(f"{STOCK}batches/new/", changes.new_batch, name="batch_new"),
    path(f"{STOCK}relatives/", relatives.relatives, name="stock_relatives"),
    path(f"{STOCK}measures.csv", downloads.measures_csv, name="stock_measures_csv"),
    path(f"{STOCK}curve.csv", downloads.curve_csv, name="stock_curve_csv"),
]
