"""Addresses: tiles, and scans side by side."""

from django.urls import path

from scans.pages.viewing import side_by_side, tiles

urlpatterns = [
    path(
        "scans/tiles/<int:pyramid_id>/<int:level>/<int:column>_<int:row>.<slug:kind>",
        tiles.tile,
        name="scan_tile",
    ),
    path("scans/<int:scan_id>/thumbnail.png", tiles.thumbnail, name="scan_thumbnail"),
    path("scans/<int:scan_id>/crop.png", side_by_side.crop, name="scan_crop"),
    path("compare/side-by-side/", side_by_side.side_by_side, name="side_by_side"),
]
