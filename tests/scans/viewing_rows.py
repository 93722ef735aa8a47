"""Rows and files of scans that can be looked at, made directly, for tests of the viewers."""

import datetime
import hashlib
import shutil
import tempfile
from pathlib import Path

import numpy as np
from django.db import transaction

from curves.models import Instrument, TabletRevision
from labsite.jobs.runner import run_waiting_jobs
from scans.imaging.calibrate_store import calibration_from_dict, calibration_to_dict
from scans.imaging.decode import read_picture
from scans.imaging.pyramid import build_pyramid, thumbnail
from scans.models import FileState, Scan, ScannerCalibration, StoredFile, TilePyramid
from scans.services.viewing import request_tiles
from tests.imaging.calibrations import made_calibration
from tests.imaging.picture_files import write_tiff
from tests.imaging.responses import level_of

SETUP = {"scanner": "Flatbed 3", "settings": {}}


def levels_of(density):
    """What the scanner of `made_calibration` answers to densities."""
    return np.clip(np.rint(level_of(np.asarray(density, float), "linear")), 0, 65535).astype(np.uint16)


def make_file(samples, *, state=FileState.MEASURABLE, ppi=1200.0, write=write_tiff) -> StoredFile:
    """A stored file of these samples, checked already."""
    with tempfile.TemporaryDirectory() as folder:
        written = write(Path(folder) / "picture", samples)
        content = written.read_bytes()
        digest = hashlib.sha256(content).hexdigest()
        file, _ = StoredFile.objects.get_or_create(
            digest=digest,
            defaults={
                "size_bytes": len(content),
                "state": state,
                "refusal_text": "" if state == FileState.MEASURABLE else "It has lost some of its levels.",
                "format": "TIFF",
                "width_px": samples.shape[1],
                "height_px": samples.shape[0],
                "channels": 1 if samples.ndim == 2 else 3,
                "bit_depth": samples.dtype.itemsize * 8,
                "resolution_x_ppi": ppi,
                "resolution_y_ppi": ppi,
            },
        )
        file.path.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(written, file.path)
    return file


def make_scan(member, samples, **fields) -> Scan:
    """A scan of a file made of these samples."""
    file = fields.pop("file", None) or make_file(samples)
    return Scan.objects.create(file=file, member=member, filename="frame.tif", **fields)


def make_calibration(member, scan: Scan, scanner: Instrument, tablet: TabletRevision) -> ScannerCalibration:
    """A calibration without error, in force for the scanner."""
    document = calibration_to_dict(made_calibration())
    return ScannerCalibration.objects.create(
        scanner=scanner,
        scan=scan,
        tablet_revision=tablet,
        setup=SETUP,
        setup_digest="5" * 64,
        document=document,
        made_on=datetime.date(2026, 3, 1),
        valid_days=30,
        made_by=member,
        input_digest="6" * 64,
    )


def cut_here(scan: Scan, calibration: ScannerCalibration | None = None) -> TilePyramid:
    """The scan's tiles, made without a job, within the transaction of a test."""
    response = calibration and calibration_from_dict(calibration.document)
    picture = read_picture(scan.file.path).picture
    row = TilePyramid(file=scan.file, calibration=calibration)
    row.document = build_pyramid(picture, row.folder, response).to_dict()
    row.thumbnail_path.write_bytes(thumbnail(picture, response))
    row.save()
    return row


def cut(scan: Scan, calibration: ScannerCalibration | None = None) -> TilePyramid:
    """The scan's tiles, made by the job."""
    with transaction.atomic():
        request_tiles(file=scan.file, calibration=calibration)
    run_waiting_jobs()
    return TilePyramid.objects.get(file=scan.file, calibration=calibration)
