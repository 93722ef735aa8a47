"""Addresses of the curves pages, an area a line."""

from django.urls import include, path

urlpatterns = [
    path("control/", include("curves.pages.control.urls")),
    path("", include("curves.pages.rolls.urls")),
    path("compare/", include("curves.pages.compare.urls")),
]
