"""Calibrating a scanner from a scan of the step tablet; each calibration is kept, the newest is in force."""

from dataclasses import replace

from django.db import transaction

from curves.models import TabletRevision
from labsite.accounts.services import record_audit
from labsite.common.access import require_member
from labsite.common.errors import InvalidInput, NotFound, WrongState
from labsite.jobs.models import Job
from labsite.jobs.services import submit_job
from scans.imaging.calibrate import DEFAULT_VALID_DAYS, Calibration, drift_between
from scans.imaging.calibrate_store import calibration_from_dict, calibration_to_dict
from scans.imaging.measures import Refusal
from scans.models import CalibrationState, Measurement, Scan, ScannerCalibration
from scans.queries.calibrations import obstacle_to_calibrating, waiting_scans
from scans.queries.measured import current_measurement, measurable_scan
from scans.queries.setups import setup_digest
from scans.services.measuring import request_measuring

LONGEST_VALID_DAYS = 365


@transaction.atomic
def calibrate_scanner(*, actor, scan_id: int, valid_days: int = DEFAULT_VALID_DAYS) -> Job:
    """Submit the calibration of the scan's scanner with the scan's settings; or say what it lacks."""
    require_member(actor)
    scan = measurable_scan(scan_id)
    if scan is None:
        raise NotFound("There is no such scan.")
    if not 1 <= valid_days <= LONGEST_VALID_DAYS:
        text = f"A calibration is valid for 1 to {LONGEST_VALID_DAYS} days."
        raise InvalidInput(text, field="valid_days")
    obstacle = obstacle_to_calibrating(scan, current_measurement(scan))
    if obstacle:
        raise WrongState(obstacle)
    return submit_job(
        kind="calibrate_scanner",
        subject={"scan_id": scan.pk, "valid_days": valid_days},
        label=f"Calibrate {scan.scanner} from {scan.code}",
        requested_by=actor,
        dedupe_key=f"calibrate_scanner:{scan.pk}",
        link=f"/scans/{scan.pk}/",
    )


@transaction.atomic
def store_calibration(
    *,
    measurement: Measurement,
    revision: TabletRevision,
    calibration: Calibration,
    input_digest: str,
    made_by_id: int,
) -> ScannerCalibration:
    """Keep a calibration, once for its inputs; the newest is in force, its drift is against the last.

    Scans of the same set-up that waited for a calibration are measured anew.
    """
    scan = measurable_scan(measurement.scan_id)
    digest = setup_digest(scan)
    # One at a time for a set-up: the drift is against the one before, and only one is in force.
    earlier = list(
        ScannerCalibration.objects.select_for_update()
        .filter(scanner=scan.scanner, setup_digest=digest)
        .exclude(state=CalibrationState.VOID)
    )
    known = ScannerCalibration.objects.filter(scan=scan, input_digest=input_digest).first()
    if known is not None and known.state == CalibrationState.VOID:
        text = f"The calibration from this scan was voided: {known.void_reason} Scan the tablet again."
        raise WrongState(text)
    if known is not None:
        return known
    before = _newest([row for row in earlier if row.made_on <= calibration.made_on])
    is_newest = not any(row.made_on > calibration.made_on for row in earlier)
    if is_newest:
        _standing(earlier).update(state=CalibrationState.SUPERSEDED)
    row = ScannerCalibration.objects.create(
        scanner=scan.scanner,
        scan=scan,
        tablet_revision=revision,
        setup={"scanner": calibration.setup.scanner, "settings": calibration.setup.settings},
        setup_digest=digest,
        document=calibration_to_dict(calibration),
        made_on=calibration.made_on,
        valid_days=calibration.valid_days,
        drift=drift_document(before, calibration),
        state=CalibrationState.IN_FORCE if is_newest else CalibrationState.SUPERSEDED,
        made_by_id=made_by_id,
        input_digest=input_digest,
    )
    record_audit(
        actor=row.made_by,
        action="calibrate scanner",
        subject=row,
        after={"scanner": str(scan.scanner), "scan": scan.code, "tablet": str(revision)},
    )
    _measure_waiting(row)
    return row


def drift_document(before: ScannerCalibration | None, calibration: Calibration) -> dict:
    """How far the scanner moved since the calibration before; empty for the first of its set-up."""
    if before is None:
        return {}
    against = {"against": before.pk, "made_on": before.made_on.isoformat()}
    earlier = calibration_from_dict(before.document)
    if isinstance(earlier, Refusal):
        return {**against, "refusal": earlier.text}
    # The digest of both set-ups is the same; only the scanner's name may have been mended meanwhile.
    drift = drift_between(replace(earlier, setup=calibration.setup), calibration)
    if isinstance(drift, Refusal):
        return {**against, "refusal": drift.text}
    return {
        **against,
        "density": [round(float(each), 3) for each in drift.density],
        "shift": [round(float(each), 5) for each in drift.shift],
        "largest": round(drift.largest, 5),
        "rms": round(drift.rms, 5),
    }


def _newest(rows: list[ScannerCalibration]) -> ScannerCalibration | None:
    return max(rows, key=lambda row: (row.made_on, row.pk), default=None)


def _standing(rows: list[ScannerCalibration]):
    pks = [row.pk for row in rows if row.state == CalibrationState.IN_FORCE]
    return ScannerCalibration.objects.filter(pk__in=pks)


def _measure_waiting(row: ScannerCalibration) -> None:
    scans: list[Scan] = waiting_scans(row)
    for scan in scans:
        request_measuring(scan=scan)
