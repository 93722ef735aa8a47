"""Addresses of the Compare area."""

from django.urls import path

from curves.pages.compare import kept, relatives, trade_offs, views

SAVED = "saved/<int:comparison_id>/"
FROZEN = "frozen/<slug:frozen_code>/"

urlpatterns = [
    path("", views.compare, name="compare"),
    path("words/<int:stock_id>/", views.compare_words, name="compare_words"),
    path("data.csv", views.compare_data, {"kind": "csv"}, name="compare_data"),
    path("data.json", views.compare_data, {"kind": "json"}, name="compare_data_json"),
    path("data.xlsx", views.compare_data, {"kind": "xlsx"}, name="compare_data_xlsx"),
    path("saved/", kept.kept, name="compare_kept"),
    path("saved/new/", kept.save, name="compare_save"),
    path(f"{SAVED}rename/", kept.rename, name="compare_saved_rename"),
    path(f"{SAVED}delete/", kept.delete, name="compare_saved_delete"),
    path("trade-offs/", trade_offs.trade_off_page, name="compare_trade_offs"),
    path("relatives/", relatives.relatives, name="compare_relatives"),
    path("margins/", relatives.margins, name="compare_margins"),
    path("frozen/new/", kept.freeze, name="compare_freeze"),
    path(FROZEN, kept.frozen, name="compare_frozen"),
    path(f"{FROZEN}comparison.<slug:file_kind>", kept.frozen_file, name="compare_frozen_file"),
]
