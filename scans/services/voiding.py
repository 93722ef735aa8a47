"""Taking a calibration out of use: what rests on it is marked and measured anew, and nothing is deleted."""

from django.db import transaction

from curves.services.picture_measures import end_measures_from
from labsite.accounts.services import record_audit
from labsite.common.access import require_admin
from labsite.common.errors import InvalidInput, NotFound, WrongState
from scans.models import CalibrationState, Measurement, ScannerCalibration
from scans.queries.measured import measurable_scan
from scans.queries.taking_pictures import source_key
from scans.services.measuring import request_measuring


@transaction.atomic
def void_calibration(*, actor, calibration_id: int, reason: str) -> ScannerCalibration:
    """Void a calibration with the reason; its measurements stand no longer and are made anew without it.

    Readings that were taken from them stay as they are: they are somebody's, and the page of the
    calibration lists them with their rolls. Grain and sharpness taken from them are ended, since they enter
    comparisons without a review of their own.
    """
    require_admin(actor)
    row = ScannerCalibration.objects.select_for_update().filter(pk=calibration_id).first()
    if row is None:
        raise NotFound("There is no such calibration.")
    if row.state == CalibrationState.VOID:
        raise WrongState("This calibration is void already.")
    reason = reason.strip()
    if not reason:
        raise InvalidInput("Say why it can't be trusted; whoever used it will read this.", field="reason")
    was = row.state
    row.state, row.void_reason = CalibrationState.VOID, reason
    row.save(update_fields=["state", "void_reason"])
    if was == CalibrationState.IN_FORCE:
        _put_former_in_force(row)
    resting = Measurement.objects.filter(calibration=row, is_current=True)
    scan_ids = sorted(set(resting.values_list("scan_id", flat=True)))
    resting.update(is_current=False)
    ended = end_measures_from(
        actor=actor,
        source_keys=[source_key(each) for each in Measurement.objects.filter(calibration=row)],
        reason=f"The calibration of {row.made_on:%Y-%m-%d} is void: {reason}",
    )
    for scan_id in scan_ids:
        scan = measurable_scan(scan_id)
        if scan is not None:
            request_measuring(scan=scan, requested_by=actor)
    record_audit(
        actor=actor,
        action="void calibration",
        subject=row,
        before={"state": str(was)},
        after={"state": str(row.state), "scans": len(scan_ids), "measures_ended": ended},
        reason=reason,
    )
    return row


def _put_former_in_force(row: ScannerCalibration) -> None:
    former = (
        ScannerCalibration.objects.filter(
            scanner=row.scanner, setup_digest=row.setup_digest, state=CalibrationState.SUPERSEDED
        )
        .order_by("-made_on", "-id")
        .first()
    )
    if former is not None:
        former.state = CalibrationState.IN_FORCE
        former.save(update_fields=["state"])
