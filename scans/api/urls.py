"""Addresses of the scans API, an area a line."""

urlpatterns = []
