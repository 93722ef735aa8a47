"""Measuring scans: decode in a child, find what is to be read, read it, store it with what it rests on."""

from dataclasses import replace

from labsite.common.errors import NotFound, WrongState
from labsite.jobs.registry import JobRun, job_handler
from scans.imaging.decode_child import decode_in_child
from scans.imaging.picture import Picture
from scans.models import FileState, Placement, Scan, Shows
from scans.queries.setups import resolution_of
from scans.services.placing import store_found_areas
from scans.tasks.locating import found_areas


@job_handler("measure_scan", time_limit_s=300)
def measure_scan(run: JobRun) -> dict:
    """Find a scan's areas, unless a member set them."""
    scan = _scan(run.subject["scan_id"])
    run.progress(5, "Reading the picture")
    picture = read_picture(scan)
    placement = scan.placements.order_by("-number").first()
    if placement is None or placement.origin == Placement.Origin.FOUND:
        run.progress(20, "Looking for what is to be read")
        found = found_areas(scan, picture)
        with run.storing():
            placement = store_found_areas(scan_id=scan.pk, found=found)
    return {"placement": placement.number, "is_found": placement.is_found}


def read_picture(scan: Scan) -> Picture:
    """The picture, with the resolution that the member told where the file says nothing."""
    outcome = decode_in_child(scan.file.path)
    if outcome.picture is None:
        raise WrongState(outcome.refusal.text, code=outcome.refusal.code)
    return replace(outcome.picture, resolution_ppi=resolution_of(scan))


def _scan(scan_id: int) -> Scan:
    scan = Scan.objects.select_related("file", "scanner", "tablet", "strip__tablet_revision")
    scan = scan.filter(pk=scan_id, is_discarded=False).first()
    if scan is None:
        raise NotFound("The scan is gone.")
    if scan.shows == Shows.UNKNOWN or scan.file.state != FileState.MEASURABLE:
        raise WrongState("There is nothing to measure: say what the scan shows, and give a measurable file.")
    return scan
