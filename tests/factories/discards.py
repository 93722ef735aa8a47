"""Scans that were discarded some days ago."""

from datetime import timedelta

from django.utils import timezone

from scans.models import Scan
from scans.services.describing import discard_scan


def discarded(scan: Scan, *, days: float) -> Scan:
    """The scan, discarded so many days ago by its member."""
    discard_scan(actor=scan.member, scan_id=scan.pk)
    age(scan, days=days)
    return scan


def age(scan: Scan, *, days: float) -> None:
    """Let a discarded scan have been so for so many days."""
    Scan.objects.filter(pk=scan.pk).update(discarded_at=timezone.now() - timedelta(days=days))
    scan.refresh_from_db()
