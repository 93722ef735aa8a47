"""Grain and sharpness of the demo lab's stocks: invented numbers, taken into rolls by the lab's service."""

import math

import numpy as np

from curves.models import Roll, RollState
from curves.models.picture_measures import PictureMeasure, PictureMeasureName
from curves.queries.picture_measures import FromPicture
from curves.services.picture_measures import take_picture_measure
from scans.imaging import IMAGING_VERSION
from scans.models import Scan, Shows
from scans.queries.setups import setup_digest
from scans.queries.taking_pictures import rig_words

#: Stock → RMS granularity, and half modulation in cycles/mm; two stocks were measured by an older scanner.
STOCKS = {
    "Wrensfell 25": (5.8, 68),
    "Wrensfell 50": (7.1, 60),
    "Wrensfell 400": (13.9, 35),
    "Aldergate Pan 125": (10.4, 43),
    "Aldergate Pan 400": (13.2, 38),
    "Aldergate Dusk 1250": (21.5, 27),
    "Corvale Ortho 40": (6.4, 63),
    "Corvale 200": (12.6, 37),
    "Saltern 64": (8.3, 49),
    "Tindrel 100": (11.8, 40),
    "Tindrel 250": (15.1, 33),
    "Cordwain 100": (9.9, 44),
    "Skylark 100": (9.9, 44),
    "Quillon 32": (6.2, 64),
    "Quillon 160": (10.6, 46),
    "Quillon 500": (16.4, 31),
    "Mossgarth 12": (4.6, 82),
}
BY_OLDER_SCANNER = {"Pellam 50": (9.0, 41), "Tindrel 640": (19.0, 26)}
OLDER = ("Flatbed 1: holder glass, resolution (pixels/inch) 2400 by 2400", "older scanner")
WITHOUT_SCANS = ("Flatbed 3: holder glass", "scanner")
READING_ERROR = {PictureMeasureName.GRAIN: 0.025, PictureMeasureName.SHARPNESS: 0.03}
ROLL_SPREAD = 0.02


def add_picture_measures(*, people: dict, seed: int) -> None:
    """Let grain and sharpness stand for the newest accepted rolls of these stocks, admins deciding."""
    rng = np.random.default_rng(seed)
    rig = _rig()
    for stocks, by in ((STOCKS, rig), (BY_OLDER_SCANNER, OLDER)):
        for name, numbers in stocks.items():
            rolls = Roll.objects.filter(batch__stock__name=name, state=RollState.ACCEPTED).order_by("-pk")
            for roll in rolls[:2]:
                _take(roll, numbers, by, people, rng)


def _rig() -> tuple[str, str]:
    """The rig of the lab's own close scans, so that all of one rig compare."""
    scan = Scan.objects.filter(shows=Shows.FIELD).select_related("file", "scanner").first()
    return (rig_words(scan), setup_digest(scan)) if scan else WITHOUT_SCANS


def _take(roll: Roll, numbers, rig: tuple[str, str], people: dict, rng: np.random.Generator) -> None:
    words, digest = rig
    admin = next(people[name] for name in ("warden", "keeper") if people[name].pk != roll.member_id)
    for name, truth in zip(READING_ERROR, numbers, strict=True):
        error = READING_ERROR[name]
        value = truth * math.exp(rng.normal(0, math.hypot(error, ROLL_SPREAD)))
        if PictureMeasure.objects.filter(roll=roll, name=name, rig_digest=digest, is_current=True).exists():
            continue  # taken from a scan of its own
        found = FromPicture(
            name=name.value,
            value=value,
            low=value * math.exp(-1.96 * error),
            high=value * math.exp(1.96 * error),
            note="",
            rig=words,
            rig_digest=digest,
            source_key=f"demo {roll.pk} {name.value}",
            source_name="the club's scans",
            source_url="",
            engine_version=IMAGING_VERSION,
        )
        take_picture_measure(actor=admin, roll_id=roll.pk, found=found)
