"""Densities of areas of a scan: steps numbered as on the tablet, patches by name, unexposed film beside."""

import numpy as np

from scans.imaging.density import Area, AreaReading, read_areas
from scans.imaging.hand_placed import READ_SHARE
from scans.imaging.measures import Flag
from scans.imaging.picture import Picture
from scans.models import Scan, Shows
from scans.queries.measured import Basis
from scans.queries.tablets import STEPS, film_steps, tablet_revision_of

UNEXPOSED = "unexposed"
BARE_GATE = 0.04
"""No film is as clear: what reads less is the scanner's empty gate [density]; common practice, no source."""
NOT_DENSER = 0.02
"""Film beside the strip that is denser than its lightest step by more got light [density]."""
ALIKE = 0.02
"""Two places of unexposed film differ by less, or one of them is none [density]."""
BEYOND = (1.2, 2.0)
"""How far beyond the end steps film is looked for [steps]."""
CONFIRM = "Taken from the film beside the strip, as the lightest there; place it by hand if it got light."


def read_densities(picture: Picture, basis: Basis) -> dict:
    """Areas with what was read of each, as a document's parts."""
    calibration = basis.chosen.engine
    placed = basis.placement.areas
    readings = read_areas(picture, [Area(each["label"], each["corners"]) for each in placed], calibration)
    steps = iter(_steps(basis))
    areas = []
    for each, reading in zip(placed, readings, strict=True):
        areas.append(_area(reading, UNEXPOSED if each.get("is_unexposed") else next(steps, None)))
    has_unexposed = any(area["step"] == 0 for area in areas)
    if basis.scan.shows == Shows.STRIP and calibration is not None and not has_unexposed:
        found = _unexposed_beside(picture, placed, readings, calibration)
        areas += [] if found is None else [found]
    if basis.chosen.withheld:
        _say_why(areas, basis.chosen.withheld.code)
    return {"areas": areas}


def _steps(basis: Basis) -> list:
    """A number for each placed area that is a step, in the order of the areas; none for patches."""
    if not basis.placement.layout.startswith(STEPS):
        return []
    scan: Scan = basis.scan
    revision = tablet_revision_of(scan)
    if revision is None:
        return list(range(1, len(basis.placement.areas) + 1))
    return film_steps(revision, is_film=scan.shows == Shows.STRIP)


def _area(reading: AreaReading, step) -> dict:
    """A reading as it is kept: with the errors of its level, which a calibration needs."""
    stored = reading.to_dict()
    number = 0 if step == UNEXPOSED else step
    if number is not None:
        stored["label"] = UNEXPOSED if number == 0 else f"step {number}"
    known = np.isfinite(reading.level)
    return {
        **stored,
        "step": number,
        "level": float(reading.level) if known else None,
        "level_error": float(reading.level_error) if known else None,
        "level_spread": float(reading.level_spread) if known else None,
    }


def _say_why(areas: list[dict], code: str) -> None:
    """Say with each number which reason it is withheld for, not just that no calibration was given."""
    for area in areas:
        for name in ("transmittance", "density", "density_spread"):
            if area[name]["reason"] == "UNCALIBRATED":
                area[name]["reason"] = code


def _unexposed_beside(picture: Picture, placed, readings, calibration) -> dict | None:
    """Base plus fog from film beyond the strip's ends; None where it is not surely that."""
    lightest = next((each for each in readings if each.density.value is not None), None)
    if lightest is None or len(placed) < 2:
        return None
    spots = [spot for spot in _spots(placed) if _is_inside(spot, picture)]
    read = read_areas(picture, [Area(UNEXPOSED, spot) for spot in spots], calibration)
    most = lightest.density.high + NOT_DENSER
    fit = [each for each in read if _is_even(each) and BARE_GATE <= each.density.value <= most]
    if not fit or np.ptp([each.density.value for each in fit]) > ALIKE:
        return None
    chosen = min(fit, key=lambda each: each.density.high - each.density.low)
    found = _area(chosen, UNEXPOSED)
    found["flags"] = [*found["flags"], {"code": "BESIDE_THE_STRIP", "text": CONFIRM}]
    return found


def _spots(placed) -> list[np.ndarray]:
    """Areas like the end steps', beyond them."""
    first, second, last, before = (np.array(placed[index]["corners"]) for index in (0, 1, -1, -2))
    ends = (
        (first, first.mean(axis=0) - second.mean(axis=0)),
        (last, last.mean(axis=0) - before.mean(axis=0)),
    )
    return [corners + far * pitch for corners, pitch in ends for far in BEYOND]


def _is_inside(corners: np.ndarray, picture: Picture) -> bool:
    spare = (1 / READ_SHARE - 1) / 2 * np.ptp(corners, axis=0)
    low, high = corners.min(axis=0) - spare, corners.max(axis=0) + spare
    return bool(np.all(low >= 0) and high[0] <= picture.width - 1 and high[1] <= picture.height - 1)


def _is_even(reading: AreaReading) -> bool:
    bad = {"UNEVEN", "SATURATED", "DUST_LEFT_OUT"}
    flags: tuple[Flag, ...] = reading.flags
    return reading.density.value is not None and not any(flag.code in bad for flag in flags)
