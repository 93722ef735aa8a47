"""Who gets what of a roll's grain and sharpness."""

from curves.models import Roll
from tests.factories.pictures import picture_row

PAGES = """
GET   roll_pictures              pictured       200 200 200 302 302 302
GET   roll_picture_end           pictured       302 302 302 302 302 302
POST  roll_picture_end           pictured       400 400 400 403 403 403
"""
OPERATIONS = """
GET    api_picture_measures      pictured       200 200 200 401 401 401
POST   api_picture_measure_end   pictured       200 403 403 401 401 401
"""
BODIES = {"api_picture_measure_end": {"reason": "dust"}}


def things(lab) -> tuple[dict, dict]:
    """Grain of the owner's draft."""
    roll = Roll.objects.get(pk=lab.things["draft"]["roll_id"])
    row = picture_row(roll, "rms_granularity", 9.0)
    return {}, {"pictured": {"roll_id": roll.pk, "measure_id": row.pk}}
