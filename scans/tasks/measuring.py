"""Measuring scans: decode in a child, find what is to be read, read it, store it with what it rests on."""

from dataclasses import replace

from labsite.common.errors import NotFound, WrongState
from labsite.jobs.registry import JobRun, job_handler
from scans.imaging.decode_child import decode_in_child
from scans.imaging.picture import Picture
from scans.models import FileState, MeasurementKind, Placement, Scan, Shows
from scans.queries.measured import Basis, measurable_scan, measuring_basis, newest_placement
from scans.queries.setups import resolution_of
from scans.queries.tablets import fits_layout
from scans.services.measuring import clear_measurement, store_measurement
from scans.services.placing import store_found_areas
from scans.tasks.locating import found_areas
from scans.tasks.reading_densities import read_densities
from scans.tasks.reading_edge import read_edge
from scans.tasks.reading_grain import read_grain

FORMAT = "scan measurement 1"
READERS = {
    MeasurementKind.DENSITY: read_densities,
    MeasurementKind.GRAIN: read_grain,
    MeasurementKind.EDGE: read_edge,
}


@job_handler("measure_scan", time_limit_s=300)
def measure_scan(run: JobRun) -> dict:
    """Find a scan's areas, unless a member set them, and read them."""
    scan = _scan(run.subject["scan_id"])
    run.progress(5, "Reading the picture")
    picture = read_picture(scan)
    placement = newest_placement(scan)
    is_placed = placement is not None and placement.origin == Placement.Origin.PLACED
    if run.subject.get("is_found_anew") or not (is_placed and fits_layout(placement, scan)):
        run.progress(20, "Looking for what is to be read")
        found, seen = found_areas(scan, picture), placement.number if placement else 0
        with run.storing():
            placement = store_found_areas(scan_id=scan.pk, found=found, seen_number=seen)
    if not placement.is_found:
        with run.storing():
            clear_measurement(scan_id=scan.pk)
        return {"placement": placement.number, "is_found": False}
    run.progress(50, "Measuring")
    basis = measuring_basis(scan, placement)
    document = measured_document(picture, basis)
    run.progress(95, "Storing")
    with run.storing():
        measurement = store_measurement(basis=basis, document=document)
    return {"placement": placement.number, "is_found": True, "measurement": measurement.pk}


def measured_document(picture: Picture, basis: Basis) -> dict:
    """Everything that was read, with the reason where something is withheld."""
    withheld = basis.chosen.withheld
    return {
        "format": FORMAT,
        "shows": basis.scan.shows,
        "file_digest": basis.scan.file.digest,
        "patch_digest": basis.patch_digest,
        "withheld": withheld.to_dict() if withheld else None,
        "flags": [flag.to_dict() for flag in picture.flags] + _own_scan(basis),
        "notes": [],
        **_with_flags(READERS[basis.kind](picture, basis), picture),
    }


def _with_flags(read: dict, picture: Picture) -> dict:
    if "flags" in read:
        read["flags"] = [flag.to_dict() for flag in picture.flags] + read["flags"]
    return read


def _own_scan(basis: Basis) -> list[dict]:
    row = basis.chosen.row
    if row is None or row.scan_id != basis.scan.pk:
        return []
    text = "The densities are by the response that was fitted to this very scan, so they are no check of it."
    return [{"code": "SAME_SCAN", "text": text}]


def read_picture(scan: Scan) -> Picture:
    """The picture, with the resolution that the member told where the file says nothing or is wrong."""
    outcome = decode_in_child(scan.file.path)
    if outcome.picture is None:
        raise WrongState(outcome.refusal.text, code=outcome.refusal.code)
    if not outcome.picture.is_measurable:
        raise WrongState(outcome.picture.refusal.text, code=outcome.picture.refusal.code)
    return replace(outcome.picture, resolution_ppi=resolution_of(scan))


def _scan(scan_id: int) -> Scan:
    scan = measurable_scan(scan_id)
    if scan is None:
        raise NotFound("The scan is gone.")
    if scan.shows == Shows.UNKNOWN or scan.file.state != FileState.MEASURABLE:
        raise WrongState("There is nothing to measure: say what the scan shows, and give a measurable file.")
    return scan
