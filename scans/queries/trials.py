"""Trials of scanners: which scans can make one, and which one's numbers it bears on."""

from django.db.models import QuerySet

from labsite.common.access import is_member
from scans.models import FileState, Scan, ScannerTrial, Shows
from scans.queries.setups import setup_digest


def scans_of_setup(trial: ScannerTrial) -> list[Scan]:
    """Fields and edges that were scanned with the set-up of a trial."""
    scans = _measurable().filter(scanner=trial.scanner, shows__in=(Shows.FIELD, Shows.EDGE))
    return [scan for scan in scans if setup_digest(scan) == trial.setup_digest]


def scans_for_trial(user, shows: str) -> QuerySet[Scan]:
    """Scans that a trial can be made of, newest first; none but for members."""
    if not is_member(user):
        return Scan.objects.none()
    return _measurable().filter(scanner__isnull=False, shows=shows).order_by("-pk")


def visible_trials(user) -> QuerySet[ScannerTrial]:
    """The lab's trials, newest first; none but for members."""
    if not is_member(user):
        return ScannerTrial.objects.none()
    return ScannerTrial.objects.select_related("scanner", "made_by").prefetch_related("scans")


def _measurable() -> QuerySet[Scan]:
    scans = Scan.objects.filter(is_discarded=False, file__state=FileState.MEASURABLE)
    return scans.select_related("file", "scanner", "tablet", "strip", "member")
