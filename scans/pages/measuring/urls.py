"""Addresses: one scan with its areas and numbers; the scanners with their calibrations."""

urlpatterns = []
