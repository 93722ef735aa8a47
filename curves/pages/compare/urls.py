"""Addresses of the Compare area."""

from django.urls import path

from curves.pages.compare import views

urlpatterns = [
    path("", views.compare, name="compare"),
    path("data.csv", views.compare_data, name="compare_data"),
]
