"""Who gets what of the tiles of scans and of scans side by side."""

import numpy as np

from curves.models import Roll
from scans.models import Shows
from tests.scans.viewing_rows import cut_here, levels_of, make_scan

PAGES = """
GET   scan_tile                  scan-draft     200 200 200 404 302 302
GET   scan_tile                  scan-accepted  200 200 200 200 302 302
GET   scan_thumbnail             scan-draft     200 200 200 404 302 302
GET   scan_thumbnail             scan-accepted  200 200 200 200 302 302
GET   scan_crop                  scan-draft     400 400 400 400 302 302
GET   scan_crop                  scan-accepted  400 400 400 400 302 302
GET   side_by_side               -              200 200 200 200 302 302
"""

OPERATIONS = """
GET    api_side_by_side          -              200 200 200 200 401 401
GET    api_scan_crop             scan-draft     400 400 400 400 401 401
GET    api_scan_crop             scan-accepted  400 400 400 400 401 401
"""


def things(lab):
    """A frame of a draft and one of an accepted roll, each cut into tiles."""
    made = {}
    for tone, name in ((0.4, "draft"), (0.5, "accepted")):
        roll = Roll.objects.get(pk=lab.things[name]["roll_id"])
        samples = levels_of(np.full((60, 90), tone))
        scan = make_scan(lab.people["owner"], samples, roll=roll, shows=Shows.FRAME)
        made[f"scan-{name}"] = {"scan_id": scan.pk, "pyramid_id": cut_here(scan).pk}
    return {"level": 0, "column": 0, "row": 0, "kind": "png"}, made
