"""Densities of a scan taken into a roll's strip: readings like any others, with the scan as their source."""

from django.db import transaction

from curves.models import Reading
from curves.services.readings import ReadingValue, record_readings
from labsite.common.access import require_member
from labsite.common.errors import WrongState
from scans.models import Scan, Transfer
from scans.queries.taking import taking_preview

STALE = "This scan was measured anew since the preview was opened; look at the preview again."


@transaction.atomic
def take_densities(
    *, actor, scan_id: int, measurement_id: int | None = None, version: str = "", reason: str = ""
) -> Transfer:
    """Store the standing densities as readings of the scan's strip; withheld steps are left as they are.

    The measurement and the version of the strip's readings are those that the preview showed; where others
    stand by now, nothing is stored. Taking the same measurement twice adds nothing.
    """
    require_member(actor)
    Scan.objects.select_for_update().filter(pk=scan_id).first()
    shown = taking_preview(actor, scan_id)
    if measurement_id is not None and measurement_id != shown.measurement.pk:
        raise WrongState(STALE, code="stale")
    strip = shown.grid.strip
    record_readings(
        actor=actor,
        strip_id=strip.pk,
        values=[ReadingValue(each.step, 1, each.density) for each in shown.taken],
        instrument_id=shown.scan.scanner_id,
        source=Reading.Source.SCAN,
        source_name=shown.scan.code,
        reason=reason,
        version=version,
    )
    readings = strip.readings.filter(
        is_current=True, replicate=1, step__in=[each.step for each in shown.taken]
    )
    transfer = Transfer.objects.filter(measurement=shown.measurement, strip=strip).first()
    if transfer is None:
        transfer = Transfer.objects.create(measurement=shown.measurement, strip=strip, taken_by=actor)
    transfer.readings.add(*readings)
    return transfer
