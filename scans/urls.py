"""Addresses of the scans pages, an area a line."""

from django.urls import include, path

urlpatterns = [
    path("scans/", include("scans.pages.files.urls")),
    path("lab/disk/", include("scans.pages.disk.urls")),
    path("", include("scans.pages.measuring.urls")),
    path("", include("scans.pages.viewing.urls")),
]
