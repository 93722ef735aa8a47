"""Grain and sharpness: rows that stand for rolls, and measured scans to take them from."""

import math

import numpy as np

from curves.models import PictureMeasure
from scans.models import Measurement, Placement, Scan, Shows
from scans.queries.measured import measurable_scan, measuring_basis
from tests.factories.scans import scan_row

RIG = "a" * 64
AREAS = [{"label": "whole", "corners": [[0, 0], [80, 0], [80, 60], [0, 60]]}]


def picture_row(roll, name: str, value: float, *, error=0.02, rig=RIG, **fields) -> PictureMeasure:
    """A standing measure of a roll, its interval from a relative error."""
    half = 1.96 * error
    values = {
        "low": value * math.exp(-half),
        "high": value * math.exp(half),
        "rig": f"Flatbed {rig[0]}",
        "rig_digest": rig,
        "source_key": f"measurement {PictureMeasure.objects.count()}",
        "source_name": "S-0001",
        "source_url": "/scans/1/",
        "engine_version": "1",
        "taken_by": roll.member,
    }
    return PictureMeasure.objects.create(roll=roll, name=name, value=value, **values | fields)


def picture_scan(member, roll, scanner, shows=Shows.FIELD, *, measure: dict) -> Scan:
    """A scan of an even field or an edge with a standing measurement that says this."""
    scan = scan_row(member, np.full((60, 80), 9000, np.uint16), shows, scanner=scanner, roll=roll, name=shows)
    placement = Placement.objects.create(scan=scan, number=1, origin="found", layout="whole", areas=AREAS)
    basis = measuring_basis(measurable_scan(scan.pk), placement)
    stated = {"value": None, "low": None, "high": None, "unit": "", "reason": None, "note": ""} | measure
    document = {"patch_digest": basis.patch_digest, "withheld": None, "flags": [], "notes": [], "areas": []}
    if shows == Shows.FIELD:
        document |= {"patches": [], "series": [], "stated_density": 1.0, "rms_granularity": stated}
    else:
        names = ("mtf50_cycles_per_mm", "mtf10_cycles_per_mm", "film_mtf10_cycles_per_mm")
        curve = {"frequency_cycles_per_mm": [], "mtf": [], "error": [], "film_mtf": []}
        edge = dict.fromkeys(names, stated) | {"film_mtf50_cycles_per_mm": stated, "mtf": curve}
        document |= {"edge": edge}
    Measurement.objects.create(
        scan=scan,
        kind=basis.kind,
        placement=placement,
        calibration=basis.chosen.row,
        engine_version="1",
        input_digest=basis.digest,
        document=document,
    )
    return scan
