"""Measuring a scan: asked for when there is something to measure, kept once for each set of inputs."""

from django.db import transaction

from labsite.common.access import require_member
from labsite.common.errors import NotFound, WrongState
from labsite.jobs.models import Job
from labsite.jobs.services import submit_job
from scans.imaging import IMAGING_VERSION
from scans.models import FileState, Measurement, MeasurementKind, Scan, Shows
from scans.queries.measured import Basis, measurable_scan, measuring_basis, newest_placement, other_fields
from scans.services.viewing import request_density_tiles

NOTHING = "There is nothing to measure: give a file that is fit for measuring, and say what the scan shows."


def request_measuring(*, scan: Scan, requested_by=None, is_found_anew: bool = False) -> Job | None:
    """Submit the measuring of a scan, on commit of the transaction that changed what it rests on.

    None where there is nothing to measure: the file is not fit for it, or nobody said what it shows. With
    ``is_found_anew`` the lab looks for the areas itself, even where a member had placed them.
    """
    if scan.is_discarded or scan.shows == Shows.UNKNOWN or scan.file.state != FileState.MEASURABLE:
        return None
    return submit_job(
        kind="measure_scan",
        subject={"scan_id": scan.pk} | ({"is_found_anew": True} if is_found_anew else {}),
        label=f"Measure {scan.code}",
        requested_by=requested_by,
        dedupe_key=f"measure_scan:{scan.pk}{':anew' if is_found_anew else ''}",
        link=f"/scans/{scan.pk}/",
    )


@transaction.atomic
def remeasure_older() -> int:
    """Ask for the measuring anew of every scan whose standing numbers are of an older engine; how many."""
    older = Measurement.objects.filter(is_current=True).exclude(engine_version=IMAGING_VERSION)
    scans = Scan.objects.filter(measurements__in=older).select_related("file").distinct().order_by("pk")
    return sum(request_measuring(scan=scan) is not None for scan in scans)


@transaction.atomic
def measure_again(*, actor, scan_id: int, is_found_anew: bool = False) -> Job:
    """Ask for the measuring of a scan anew, with the areas as they stand or found anew by the lab."""
    require_member(actor)
    scan = measurable_scan(scan_id)
    if scan is None:
        raise NotFound("There is no such scan.")
    job = request_measuring(scan=scan, requested_by=actor, is_found_anew=is_found_anew)
    if job is None:
        raise WrongState(NOTHING)
    return job


@transaction.atomic
def store_measurement(*, basis: Basis, document: dict) -> Measurement:
    """Keep a document, once for its inputs, and let it stand if its inputs still do.

    What was placed, described or calibrated anew meanwhile has a job of its own; this one is then kept as
    history. Other fields of a grain series are measured anew where this scan's own patches are new to them.
    """
    scan = Scan.objects.select_for_update().get(pk=basis.scan.pk)
    measurement, _ = Measurement.objects.get_or_create(
        scan=scan,
        kind=basis.kind,
        engine_version=IMAGING_VERSION,
        input_digest=basis.digest,
        defaults={
            "placement": basis.placement,
            "calibration": basis.chosen.row,
            "trial": basis.trial,
            "document": document,
            "is_current": False,
        },
    )
    if not measurement.is_current and _still_holds(basis):
        had = scan.measurements.filter(kind=basis.kind, is_current=True).first()
        scan.measurements.filter(is_current=True).update(is_current=False)
        measurement.is_current = True
        measurement.save(update_fields=["is_current"])
        if basis.chosen.row is not None:
            request_density_tiles(file=scan.file, calibration=basis.chosen.row)
        if basis.kind == MeasurementKind.GRAIN and _has_other_patches(had, measurement):
            _measure_other_fields(basis.scan)
    return measurement


@transaction.atomic
def clear_measurement(*, scan_id: int) -> None:
    """Let no measurement stand: there is nothing on the scan to be read, as far as is known."""
    Scan.objects.select_for_update().get(pk=scan_id).measurements.filter(is_current=True).update(
        is_current=False
    )


def _still_holds(basis: Basis) -> bool:
    scan = measurable_scan(basis.scan.pk)
    placement = None if scan is None else newest_placement(scan)
    return placement is not None and measuring_basis(scan, placement).digest == basis.digest


def _has_other_patches(had: Measurement | None, now: Measurement) -> bool:
    return had is None or had.document["patch_digest"] != now.document["patch_digest"]


def _measure_other_fields(scan: Scan) -> None:
    for other in other_fields(scan):
        request_measuring(scan=other.scan)
