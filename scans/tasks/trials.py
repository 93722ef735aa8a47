"""Trials of a scanner: its noise from fields scanned twice, its MTF from a sharp edge."""

from labsite.common.errors import NotFound, WrongState
from labsite.jobs.registry import JobRun, job_handler
from scans.imaging.measures import ImagingError
from scans.imaging.scanner_trials import limits_from_trials
from scans.imaging.sharpness import measure_edge
from scans.models import Scan
from scans.queries.calibrations import calibration_for
from scans.queries.measured import measurable_scan, newest_placement
from scans.queries.setups import resolution_of
from scans.services.trials import store_trial
from scans.tasks.light import light_of
from scans.tasks.measuring import read_picture

NOT_READ = "{code} has no areas yet; have it measured, or place its area by hand, and try again."


@job_handler("try_scanner", time_limit_s=300)
def try_scanner(run: JobRun) -> dict:
    """Measure what the scanner adds, in the light that its calibration reads."""
    pairs = [[_scan(scan_id) for scan_id in pair] for pair in run.subject["repeats"]]
    edge_scan = _scan(run.subject["edge_id"]) if run.subject["edge_id"] else None
    edge = None
    if edge_scan is not None:
        run.progress(10, "Measuring the edge")
        edge = measure_edge(_light(edge_scan), resolution_of(edge_scan))
        if edge.mtf50.value is None:
            text = f"No frequency of half modulation was found on {edge_scan.code}"
            raise WrongState(
                f"{text}{': ' + edge.mtf50.note if edge.mtf50.note else ''}.", code=edge.mtf50.reason
            )
    repeats = []
    for number, (first, second) in enumerate(pairs, start=1):
        run.progress(20 + 60 * number / len(pairs), f"Comparing {first.code} with {second.code}")
        repeats.append((_light(first), _light(second)))
    try:
        limits = limits_from_trials(repeats, edge)
    except ImagingError as fault:
        raise WrongState(fault.message, code=fault.code) from fault
    scans = [scan for pair in pairs for scan in pair] + ([edge_scan] if edge_scan else [])
    with run.storing():
        trial = store_trial(
            scans=scans, document=limits.to_dict(), made_by_id=run.requested_by_id or scans[0].member_id
        )
    return {"trial": trial.pk}


def _scan(scan_id: int) -> Scan:
    scan = measurable_scan(scan_id)
    if scan is None:
        raise NotFound("A scan of the trial is gone.")
    return scan


def _light(scan: Scan):
    """The light of the scan's area; only a calibrated scanner's noise can be told in light."""
    placement = newest_placement(scan)
    if placement is None or not placement.is_found:
        raise WrongState(NOT_READ.format(code=scan.code))
    chosen = calibration_for(scan)
    if chosen.withheld:
        raise WrongState(
            f"{scan.code}: {chosen.withheld.text} {chosen.withheld.advice}", code=chosen.withheld.code
        )
    return light_of(read_picture(scan), placement.areas[0]["corners"], chosen.engine, is_whole_box=True)
