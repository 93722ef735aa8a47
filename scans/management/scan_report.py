"""A scan to a report of plain JSON values: areas of a tablet, the grain of a field, the MTF of an edge."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

import numpy as np

from scans.imaging.calibrate import Calibration, calibrate
from scans.imaging.calibrate_store import calibration_to_dict
from scans.imaging.density import Area, read_areas, step_levels
from scans.imaging.edge_report import EdgeReport
from scans.imaging.flags import REASONS
from scans.imaging.grain_series import STATED_DENSITY, measure_granularity
from scans.imaging.locate import locate_tablet
from scans.imaging.measures import Flag, Refusal, withheld
from scans.imaging.picture import Picture
from scans.imaging.scanner_limits import ScannerLimits
from scans.imaging.sharpness import measure_edge
from scans.management.scan_files import setup_of


@dataclass(frozen=True)
class Request:
    """What a scan is to be measured for, with what.

    Attributes
    ----------
    kind : {'tablet', 'field', 'edge'}
    resolution_ppi : tuple of float or None
        In the place of what the file says.
    tablet : ndarray or None
        Calibrated densities by step.
    calibration : Calibration or None
    limits : ScannerLimits or None
    steps : int or None
    is_film : bool
    on : datetime.date
    """

    kind: str
    resolution_ppi: tuple[float, float] | None = None
    tablet: np.ndarray | None = None
    calibration: Calibration | None = None
    limits: ScannerLimits | None = None
    steps: int | None = None
    is_film: bool = False
    on: datetime.date = datetime.date.min


def scan_report(name: str, picture: Picture, request: Request) -> dict:
    """Measure a picture; ``refusal`` in the report says why nothing could be."""
    report = {
        "file": name,
        "kind": request.kind,
        "picture": _picture(picture),
        "refusal": None,
        "calibration": None,
        "flags": [flag.to_dict() for flag in picture.flags],
        "notes": [],
    }
    refusal = picture.refusal
    calibration = request.calibration
    if calibration is not None and refusal is None:
        refusal = calibration.refusal_for(setup_of(picture), request.on)
        if refusal is None and not calibration.setup.scanner:
            _add(report, Flag("SCANNER_NOT_NAMED", "Neither the scan nor the calibration names a scanner."))
    if refusal is not None:
        return report | {"refusal": refusal.to_dict()} | _nothing(request.kind, refusal)
    return report | {"tablet": _tablet, "field": _field, "edge": _edge}[request.kind](
        picture, request, report
    )


def _picture(picture: Picture) -> dict:
    return {
        "format": picture.format,
        "width": picture.width,
        "height": picture.height,
        "channels": picture.channels,
        "bit_depth": picture.bit_depth,
        "resolution_ppi": picture.resolution_ppi and list(picture.resolution_ppi),
        "metadata": picture.metadata,
    }


def _add(report: dict, flag: Flag) -> None:
    report["flags"].append(flag.to_dict())


def _nothing(kind: str, refusal: Refusal) -> dict:
    """The keys of a kind of report, each withheld."""
    reason = refusal.code if refusal.code in REASONS else "UNCALIBRATED"
    if kind == "tablet":
        return {"tablet": None, "areas": []}
    if kind == "field":
        granularity = withheld("rms_granularity", reason, "1000 D").to_dict()
        return {"areas": [], "rms_granularity": granularity, "noise_power": None, "patches": []}
    return {name: value for name, value in EdgeReport.withheld(reason).to_dict().items() if name != "flags"}


def _tablet(picture: Picture, request: Request, report: dict) -> dict:
    steps = request.steps if request.tablet is None else len(request.tablet)
    densities = None if request.tablet is None else sorted(request.tablet)
    found = locate_tablet(picture, steps, is_distinct=not request.is_film, densities=densities)
    if isinstance(found, Refusal):
        return {"refusal": found.to_dict()} | _nothing("tablet", found)
    for flag in found.flags:
        _add(report, flag)
    made: dict = {}
    calibration = request.calibration
    if calibration is None and request.tablet is not None:
        calibration, made = _calibrated_by_itself(picture, found.areas, request, report)
    readings = read_areas(picture, found.areas, calibration)
    return {
        "tablet": {
            "steps": len(found.areas),
            "angle_deg": round(found.angle_deg, 3),
            "darkens": found.darkens,
            "outline": np.round(found.outline, 2).tolist(),
        },
        "areas": [{"step": step, **reading.to_dict()} for step, reading in enumerate(readings, start=1)],
        **made,
    }


def _calibrated_by_itself(picture: Picture, areas, request: Request, report: dict):
    """A calibration by the tablet's own densities, and what of it goes into the report."""
    steps = step_levels(read_areas(picture, areas))
    made = calibrate(
        steps,
        request.tablet,
        setup=setup_of(picture),
        made_on=request.on,
        white_level=picture.white_level,
    )
    if isinstance(made, Refusal):
        return None, {"refusal": made.to_dict()}
    _add(report, Flag("SAME_SCAN", "The densities are by the response fitted to this very scan."))
    for flag in made.flags:
        _add(report, flag)
    return made, {"calibration": calibration_to_dict(made)}


def _light(picture: Picture, calibration: Calibration | None) -> np.ndarray:
    """Linear light of every pixel, shape (h, w) [fraction]; in single precision to save memory."""
    if calibration is None:
        return picture.plane.astype(np.float32) / np.float32(picture.white_level)
    return calibration.response.transmittance_table(picture.white_level).astype(np.float32)[picture.plane]


def _field(picture: Picture, request: Request, report: dict) -> dict:
    if request.calibration is None:
        refusal = Refusal("UNCALIBRATED", "Granularity needs densities; give the scanner's calibration.")
        return {"refusal": refusal.to_dict()} | _nothing("field", refusal)
    resolution = request.resolution_ppi or picture.resolution_ppi
    grain = measure_granularity([_light(picture, request.calibration)], resolution, request.limits)
    stored = grain.to_dict()
    report["notes"].append(f"granularity is stated at density {STATED_DENSITY:.2f}, gross")
    return {
        "areas": [_whole(picture, request.calibration)],
        "rms_granularity": stored["rms_granularity"],
        "noise_power": stored["noise_power"] or stored["patches"][0]["noise_power"],
        "patches": [{**patch, "noise_power": None} for patch in stored["patches"]],
    }


def _whole(picture: Picture, calibration: Calibration) -> dict:
    right, bottom = picture.width - 1, picture.height - 1
    area = Area("whole picture", [(0, 0), (right, 0), (right, bottom), (0, bottom)])
    return read_areas(picture, [area], calibration)[0].to_dict()


def _edge(picture: Picture, request: Request, report: dict) -> dict:
    if request.calibration is None:
        text = "The levels are taken to be in proportion to light; a calibration would make sure."
        _add(report, Flag("LEVELS_AS_LIGHT", text))
    resolution = request.resolution_ppi or picture.resolution_ppi
    measured = measure_edge(_light(picture, request.calibration), resolution, request.limits)
    stored = measured.to_dict()
    report["flags"] += stored.pop("flags")
    report["notes"].append("lens, target and scanner are in the curve; compare like rigs only")
    return stored
