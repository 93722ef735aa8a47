"""Addresses: tiles, and scans side by side."""

urlpatterns = []
