"""Grain or sharpness of a scan taken into its roll, with the scan as its source."""

from django.db import transaction

from curves.models.picture_measures import PictureMeasure
from curves.services.picture_measures import take_picture_measure
from labsite.common.access import require_member
from labsite.common.errors import NotFound, WrongState
from scans.models import Scan
from scans.queries.measured import current_measurement, measurable_scan
from scans.queries.taking_pictures import obstacle_to_taking_picture, takeable_measure


@transaction.atomic
def take_picture(*, actor, scan_id: int) -> PictureMeasure:
    """Let the scan's granularity or MTF50 stand for its roll; taking it twice adds nothing."""
    require_member(actor)
    Scan.objects.select_for_update().filter(pk=scan_id).first()
    scan = measurable_scan(scan_id)
    if scan is None:
        raise NotFound("There is no such scan.")
    found = takeable_measure(scan)
    if found is None:
        raise WrongState(obstacle_to_taking_picture(scan, current_measurement(scan)))
    return take_picture_measure(actor=actor, roll_id=scan.roll_id, found=found)
