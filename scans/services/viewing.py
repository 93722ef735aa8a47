"""Tiles of a file: asked for when it can be looked at, kept once for each calibration."""

import shutil
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.conf import settings
from django.db import transaction

from labsite.common.errors import NotFound, WrongState
from labsite.jobs.models import Job
from labsite.jobs.services import submit_job
from scans.imaging.whole_folder import ABANDONED_S
from scans.models import FileState, ScannerCalibration, StoredFile, TilePyramid


def request_tiles(
    *, file: StoredFile, calibration: ScannerCalibration | None = None, requested_by=None
) -> Job:
    """Submit the cutting of a file's tiles, by one calibration's densities or by the file's own levels.

    Asking twice is harmless: a job that still waits is returned, and one that finds its tiles adds none.
    """
    if not file.can_be_seen:
        raise WrongState(f"The file is {file.get_state_display()}; there is no picture to show.")
    if calibration is not None and file.state != FileState.MEASURABLE:
        calibration = None
    coding = calibration.pk if calibration else None
    return submit_job(
        kind="cut_tiles",
        subject={"file_id": file.pk, "calibration_id": coding},
        label=f"Make the picture of file {file.digest[:8]} ready to look at",
        requested_by=requested_by,
        dedupe_key=f"cut_tiles:{file.pk}:{coding or 'levels'}",
    )


def request_density_tiles(*, file: StoredFile, calibration: ScannerCalibration) -> Job | None:
    """Submit tiles by the densities that a scan was measured with; None where they are there."""
    row = TilePyramid.objects.filter(file=file, calibration=calibration).first()
    if row is not None and row.is_on_disk:
        return None
    return request_tiles(file=file, calibration=calibration)


def renew_missing_tiles(*, scan_id: int | None = None) -> int:
    """Have tiles cut anew that are no longer on the disk, as after a backup without them was put back.

    Of all scans or of one; how many pictures are asked for.
    """
    pyramids = TilePyramid.objects.select_related("file", "calibration")
    if scan_id is not None:
        pyramids = pyramids.filter(file__scans__pk=scan_id)
    missing = [row for row in pyramids if not row.is_on_disk and row.file.path.is_file()]
    for row in missing:
        request_tiles(file=row.file, calibration=row.calibration)
    return len(missing)


@contextmanager
def renewing_tiles(*, scan_id: int) -> Iterator[None]:
    """Where a picture is not found, have its tiles cut anew if it had any: looking again finds them."""
    try:
        yield
    except NotFound:
        renew_missing_tiles(scan_id=scan_id)
        raise


@transaction.atomic
def store_pyramid(
    *, file_id: int, calibration_id: int | None, document: dict, size_bytes: int
) -> TilePyramid:
    """Keep what a browser must know of the tiles, one row for each file and calibration."""
    file = StoredFile.objects.select_for_update().get(pk=file_id)
    if file.content_removed_at is not None:
        raise NotFound("The file was removed to make room while its picture was cut.")
    pyramid, _ = TilePyramid.objects.update_or_create(
        file_id=file_id,
        calibration_id=calibration_id,
        defaults={"document": document, "size_bytes": size_bytes},
    )
    return pyramid


def measure_tiles() -> int:
    """Note what the tiles take that were cut before that was noted; of how many pictures."""
    unknown = [row for row in TilePyramid.objects.filter(size_bytes=None) if row.is_on_disk]
    for row in unknown:
        TilePyramid.objects.filter(pk=row.pk).update(size_bytes=folder_bytes(row.folder))
    return len(unknown)


def folder_bytes(folder: Path) -> int:
    """What the files below a folder hold."""
    return sum(path.stat().st_size for path in folder.rglob("*") if path.is_file())


def clear_abandoned_tiles() -> int:
    """Remove what killed or cancelled jobs left: old folders that are unfinished or belong to no row."""
    root = settings.MEDIA_ROOT / "tiles"
    known = {pyramid.folder.name for pyramid in TilePyramid.objects.only("file_id", "calibration_id")}
    cleared = 0
    for folder in root.glob("*"):
        try:
            is_old = time.time() - folder.stat().st_mtime > ABANDONED_S
        except FileNotFoundError:  # another process was quicker
            continue
        if is_old and folder.name not in known:
            shutil.rmtree(folder, ignore_errors=True)
            cleared += 1
    return cleared
