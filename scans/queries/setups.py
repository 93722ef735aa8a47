"""The set-up that a scan was made with: scanner and settings, for which alone a calibration holds."""

import datetime
import hashlib
import json

from django.utils import timezone

from scans.imaging.calibrate import ScannerSetup
from scans.models import Scan, StoredFile

FROM_FILE = ("colour_profile", "software")


def setup_of(scan: Scan) -> ScannerSetup:
    """The scanner with everything that bears on its response: what the file tells and what was typed.

    The scanner is the lab's own instrument, not the name in the file: two machines of one make differ.
    """
    settings = file_settings(scan.file)
    resolution = resolution_of(scan)
    if resolution is not None:
        settings["resolution_ppi"] = " by ".join(f"{each:.0f}" for each in resolution)
    for name, value in (scan.settings or {}).items():
        if str(value).strip():
            settings[str(name)] = str(value)
    return ScannerSetup(scan.scanner.name if scan.scanner else "", settings)


def file_settings(file: StoredFile) -> dict[str, str]:
    """What a file itself tells of the settings, by the names that ``measure_scan`` uses."""
    told = {name: str(file.metadata[name]) for name in FROM_FILE if file.metadata.get(name)}
    told |= {"bit_depth": str(file.bit_depth or ""), "channels": str(file.channels or "")}
    if file.resolution_ppi is not None:
        told["resolution_ppi"] = " by ".join(f"{each:.0f}" for each in file.resolution_ppi)
    return told


def setup_digest(scan: Scan) -> str:
    """SHA-256 of the set-up; case and spacing of what was typed do not count, nor does the scanner's name."""
    settings = {
        _plain(name): _plain(value) for name, value in setup_of(scan).settings.items() if _plain(value)
    }
    content = json.dumps([scan.scanner_id, settings], sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(content.encode()).hexdigest()


def resolution_of(scan: Scan) -> tuple[float, float] | None:
    """Pixels an inch (x, y): what the member told, else what the file says; None when nobody did."""
    told = scan.told_resolution_ppi
    return (told, told) if told else scan.file.resolution_ppi


def day_of(scan: Scan) -> datetime.date:
    """The day that a calibration must be valid on: of the scan, else of its upload."""
    return scan.scanned_on or timezone.localdate(scan.created_at)


def _plain(text: object) -> str:
    return " ".join(str(text).split()).casefold()
