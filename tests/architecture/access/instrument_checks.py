"""Who gets what from checks of instruments."""

from django.utils import timezone

from curves.models import TabletRevision
from curves.services.instrument_checks import record_check

PAGES = """
# method route                   thing            owner labmate admin open closed stranger
GET    instrument_checks         -                200 200 200 302 302 302
GET    instrument_check_new      -                200 200 200 302 302 302
POST   instrument_check_new      -                400 400 400 403 403 403
POST   instrument_check_plan     -                403 403 302 403 403 403
GET    instrument_check_strike   -                200 403 200 302 302 302
POST   instrument_check_strike   -                400 403 400 403 403 403
"""

OPERATIONS = """
# method route                   thing            owner labmate admin open closed stranger
GET    api_instrument_checks     -                200 200 200 401 401 401
POST   api_instrument_checks     -                400 400 400 401 401 401
POST   api_instrument_check_strike -              200 403 200 401 401 401
"""

BODIES = {"api_instrument_check_strike": {"reason": "misread"}}


def things(lab) -> tuple[dict, dict]:
    """Make a check by the owner."""
    tablet = TabletRevision.objects.filter(state="in_force").prefetch_related("steps").first()
    steps = list(tablet.steps.all())
    chosen = (steps[0], steps[len(steps) // 2], steps[-1])
    check = record_check(
        actor=lab.people["owner"],
        instrument_id=lab.known["instrument_id"],
        tablet_revision_id=tablet.pk,
        density_type="visual",
        geometry="diffuse",
        checked_on=timezone.localdate(),
        readings=[(step.step, step.density) for step in chosen],
    )
    return {"check_id": check.pk}, {}
