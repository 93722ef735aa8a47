"""Measuring a scan: asked for when there is something to measure, kept once for each set of inputs."""

from labsite.jobs.models import Job
from labsite.jobs.services import submit_job
from scans.models import FileState, Scan, Shows


def request_measuring(*, scan: Scan, requested_by=None) -> Job | None:
    """Submit the measuring of a scan, on commit of the transaction that changed what it rests on.

    None where there is nothing to measure: the file is not fit for it, or nobody said what it shows.
    """
    if scan.is_discarded or scan.shows == Shows.UNKNOWN or scan.file.state != FileState.MEASURABLE:
        return None
    return submit_job(
        kind="measure_scan",
        subject={"scan_id": scan.pk},
        label=f"Measure {scan.code}",
        requested_by=requested_by,
        dedupe_key=f"measure_scan:{scan.pk}",
        link=f"/scans/{scan.pk}/",
    )
