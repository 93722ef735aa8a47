"""Addresses of the curves pages, an area a line."""

from django.urls import include, path

from curves.pages.stocks.coverage import coverage

urlpatterns = [
    path("", include("curves.pages.desk.urls")),
    path("", include("curves.pages.stocks.verdict_urls")),
    path("stocks/", include("curves.pages.stocks.urls")),
    path("coverage/", coverage, name="coverage"),
    path("", include("curves.pages.printing.urls")),
    path("control/", include("curves.pages.control.urls")),
    path("", include("curves.pages.rolls.urls")),
    path("compare/", include("curves.pages.compare.urls")),
]
