"""Scans as people find them: who sees which, lists of them, and what their files are in words."""

from dataclasses import dataclass

from django.db.models import Exists, OuterRef, Q, QuerySet

from curves.models import Instrument, Roll
from labsite.accounts.models import User
from labsite.common.access import is_member
from labsite.common.errors import NotFound
from scans.models import FileState, Scan, Shows, StoredFile, TilePyramid

#: In the address of the list, scans of which nobody said what they show.
UNDESCRIBED = "unknown"


@dataclass(frozen=True)
class ScanFilter:
    """Which scans are wanted; empty values want all."""

    shows: str = ""
    state: str = ""
    roll_id: int | None = None
    scanner_id: int | None = None
    member_id: int | None = None
    is_mine: bool = False

    def condition(self, user) -> Q:
        """Return the filter as a condition on scans; "mine" is whoever looks."""
        wanted = {
            "file__state": self.state,
            "roll_id": self.roll_id,
            "scanner_id": self.scanner_id,
            "member_id": self.member_id,
        }
        condition = Q(**{name: value for name, value in wanted.items() if value})
        if self.shows:
            condition &= Q(shows=Shows.UNKNOWN if self.shows == UNDESCRIBED else self.shows)
        return condition & Q(member_id=user.pk) if self.is_mine else condition


@dataclass(frozen=True)
class ScanChoices:
    """What scans can be filtered by: only what some scan has."""

    rolls: QuerySet[Roll]
    scanners: QuerySet[Instrument]
    members: QuerySet[User]


def visible_scans(user) -> QuerySet[Scan]:
    """Return the lab's scans, each with whether there ``has_tiles`` to see; none but for members."""
    if not is_member(user):
        return Scan.objects.none()
    tiles = TilePyramid.objects.filter(file=OuterRef("file"))
    scans = Scan.objects.filter(is_discarded=False).annotate(has_tiles=Exists(tiles))
    return scans.select_related("file", "member", "roll__batch__stock", "strip", "tablet", "scanner")


def listed_scans(user, wanted: ScanFilter | None) -> QuerySet[Scan]:
    """Return the wanted scans; None stands for wishes that make no sense, which no scan fits."""
    scans = visible_scans(user)
    return scans.filter(wanted.condition(user)) if wanted else scans.none()


def visible_scan(user, scan_id: int) -> Scan:
    """Return one scan that this person may see; NotFound otherwise."""
    scan = visible_scans(user).filter(pk=scan_id).first()
    if scan is None:
        raise NotFound("There is no such scan, or it was discarded.")
    return scan


def scan_choices(user) -> ScanChoices:
    """Return the choices of the scan list's filters."""
    scans = visible_scans(user).order_by()
    return ScanChoices(
        rolls=Roll.objects.filter(pk__in=scans.values("roll")),
        scanners=Instrument.objects.filter(pk__in=scans.values("scanner")),
        members=User.objects.filter(pk__in=scans.values("member")),
    )


def same_content(scan: Scan) -> QuerySet[Scan]:
    """Return other scans of the very same file."""
    others = Scan.objects.filter(file=scan.file_id, is_discarded=False).exclude(pk=scan.pk)
    return others.select_related("member", "roll").order_by("id")


def file_words(file: StoredFile) -> str:
    """Return what a file is in one line, or why it is not more than it is."""
    if file.state == FileState.UNCHECKED:
        return "It is being checked."
    if file.state == FileState.REFUSED:
        return file.refusal_text
    colour = "grey" if file.channels == 1 else "colour"
    parts = [
        f"{file.format}, {file.bit_depth} bits, {colour}",
        f"{file.width_px} × {file.height_px} pixels",
        resolution_words(file.resolution_ppi) or "no resolution told",
    ]
    reason = f" {file.refusal_text}" if file.refusal_text else ""
    return f"{', '.join(parts)}.{reason}"


def resolution_words(resolution: tuple[float, float] | None) -> str:
    """Return pixels per inch as they are read; empty where nobody told."""
    if resolution is None:
        return ""
    x, y = (f"{each:.10g}" for each in resolution)
    return f"{x} ppi" if x == y else f"{x} × {y} ppi"


def scan_facts(scan: Scan) -> list[tuple[str, str]]:
    """Return everything that is known of a scan and its file, as terms and what they are."""
    file, settings = scan.file, scan.settings or {}
    told = f"{scan.told_resolution_ppi:.10g} ppi, as told" if scan.told_resolution_ppi else ""
    if scan.told_resolution_reason:
        told += f": {scan.told_resolution_reason}"
    if told and file.resolution_ppi:
        told += f" (the file says {resolution_words(file.resolution_ppi)})"
    rows = [
        ("Shows", scan.get_shows_display()),
        ("Roll", f"{scan.roll}, {scan.strip}" if scan.roll and scan.strip else str(scan.roll or "")),
        ("Tablet", str(scan.tablet or "")),
        ("Frame", scan.frame_label),
        ("Scanner", str(scan.scanner or "not said")),
        *((name.replace("_", " ").capitalize(), str(value)) for name, value in settings.items()),
        ("Scanned on", f"{scan.scanned_on:%Y-%m-%d}" if scan.scanned_on else ""),
        ("Notes", scan.notes),
        ("Uploaded", f"{scan.created_at:%Y-%m-%d} by {scan.member}"),
        ("File", f"{scan.filename}, {size_words(file.size_bytes)}"),
        ("Content", file_words(file)),
        ("Resolution", told or resolution_words(file.resolution_ppi) or "not known"),
        *((name.replace("_", " ").capitalize(), str(value)) for name, value in file.metadata.items()),
        ("SHA-256", file.digest),
    ]
    return [(term, value) for term, value in rows if value]


def size_words(size_bytes: int) -> str:
    """Return a size as people read it."""
    factor, unit = (1e9, "GB") if size_bytes >= 1e9 else (1e6, "MB")
    if 0 < size_bytes < 1e6:
        factor, unit = 1e3, "kB"
    return f"{size_bytes / factor:.1f} {unit}"
