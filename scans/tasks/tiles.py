"""The job that cuts a file into tiles; the folder of tiles comes first and its row last."""

from labsite.common.errors import LabError, NotFound, WrongState
from labsite.jobs.registry import JobRun, job_handler
from scans.imaging.calibrate_store import calibration_from_dict
from scans.imaging.decode_child import decode_in_child
from scans.imaging.measures import Refusal
from scans.imaging.pyramid import build_pyramid, thumbnail
from scans.models import ScannerCalibration, StoredFile, TilePyramid
from scans.services.viewing import clear_abandoned_tiles, folder_bytes, store_pyramid


@job_handler("cut_tiles", time_limit_s=600)
def cut_tiles(run: JobRun) -> dict:
    """Cut a file into tiles, unless they are there."""
    file = StoredFile.objects.filter(pk=run.subject["file_id"]).first()
    if file is None:
        raise NotFound("The file is gone.")
    calibration = _calibration(run.subject["calibration_id"])
    row = TilePyramid(file=file, calibration=calibration)
    known = TilePyramid.objects.filter(file=file, calibration=calibration).first()
    if known and row.is_on_disk:
        return {"pyramid": known.pk, "cut": False}
    clear_abandoned_tiles()
    run.progress(5, "Reading the picture")
    outcome = decode_in_child(file.path)
    if outcome.picture is None:
        raise LabError(outcome.refusal.text, code=outcome.refusal.code)
    response = _response(calibration)
    run.progress(30, "Cutting tiles")
    pyramid = build_pyramid(outcome.picture, row.folder, response)
    row.thumbnail_path.write_bytes(thumbnail(outcome.picture, response))
    size_bytes = folder_bytes(row.folder)
    run.progress(95, "Storing")
    with run.storing():
        stored = store_pyramid(
            file_id=file.pk,
            calibration_id=row.calibration_id,
            document=pyramid.to_dict(),
            size_bytes=size_bytes,
        )
    return {"pyramid": stored.pk, "cut": True}


def _calibration(pk: int | None) -> ScannerCalibration | None:
    if pk is None:
        return None
    calibration = ScannerCalibration.objects.filter(pk=pk).first()
    if calibration is None:
        raise NotFound("The calibration is gone.")
    return calibration


def _response(calibration: ScannerCalibration | None):
    """The calibration as the imaging package reads it."""
    if calibration is None:
        return None
    read = calibration_from_dict(calibration.document)
    if isinstance(read, Refusal):
        raise WrongState(read.text, code=read.code)
    return read
