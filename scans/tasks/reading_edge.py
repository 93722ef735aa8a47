"""Sharpness across a slanted edge: the MTF of everything together, and of the film after a trial."""

from scans.imaging.measures import Flag
from scans.imaging.picture import Picture
from scans.imaging.scanner_limits import ScannerLimits
from scans.imaging.sharpness import measure_edge
from scans.queries.measured import Basis
from scans.queries.setups import resolution_of
from scans.tasks.light import light_of

AS_LIGHT = "The levels are taken to be in proportion to light; a calibration would make sure."
TOGETHER = "Lens, target and scanner are in it; compare like rigs only."


def read_edge(picture: Picture, basis: Basis) -> dict:
    """The edge in the first placed area; levels count as light where there is no calibration."""
    calibration = basis.chosen.engine
    limits = ScannerLimits.from_dict(basis.trial.document) if basis.trial else None
    light = light_of(picture, basis.placement.areas[0]["corners"], calibration, is_whole_box=True)
    edge = measure_edge(light, resolution_of(basis.scan), limits).to_dict()
    flags = [] if calibration else [Flag("LEVELS_AS_LIGHT", AS_LIGHT).to_dict()]
    return {"areas": [], "edge": edge, "flags": flags + edge.pop("flags"), "notes": [TOGETHER]}
