"""Looking for what a scan is said to show: a tablet, a strip, a target; fields and edges fill the picture."""

import numpy as np

from scans.imaging.locate import locate_tablet
from scans.imaging.locate_target import locate_target
from scans.imaging.measures import Refusal
from scans.imaging.picture import Picture
from scans.models import Scan, Shows
from scans.queries.tablets import STEPS, TARGET, WHOLE, layout_of, tablet_revision_of
from scans.services.placing import FoundAreas, corners_of


def found_areas(scan: Scan, picture: Picture) -> FoundAreas:
    """What lies where, or why nothing was found; areas of steps run from the lightest to the densest."""
    layout = layout_of(scan)
    if layout.startswith(STEPS):
        return _found_steps(layout, picture, scan)
    if layout == TARGET:
        return _found_target(picture)
    right, bottom = picture.width - 1, picture.height - 1
    corners = [[0, 0], [right, 0], [right, bottom], [0, bottom]]
    return FoundAreas(WHOLE, [{"label": "whole picture", "corners": corners}], corners)


def _found_steps(layout: str, picture: Picture, scan: Scan) -> FoundAreas:
    count = int(layout.removeprefix(f"{STEPS}-")) if layout != STEPS else None
    is_tablet = scan.shows == Shows.TABLET
    revision = tablet_revision_of(scan) if is_tablet else None
    densities = sorted(step.density for step in revision.steps.all()) if revision else None
    found = locate_tablet(picture, count, is_distinct=is_tablet, densities=densities)
    if isinstance(found, Refusal):
        return FoundAreas(layout, refusal_code=found.code, refusal_text=found.text)
    return FoundAreas(
        f"{STEPS}-{len(found.areas)}",
        [{"label": area.label, "corners": corners_of(area)} for area in found.areas],
        np.round(found.outline, 2).tolist(),
        found.darkens,
        [flag.to_dict() for flag in found.flags],
    )


def _found_target(picture: Picture) -> FoundAreas:
    found = locate_target(picture)
    if isinstance(found, Refusal):
        return FoundAreas(TARGET, refusal_code=found.code, refusal_text=found.text)
    return FoundAreas(
        TARGET,
        [{"label": area.label, "corners": corners_of(area)} for area in found.areas],
        np.round(found.outline, 2).tolist(),
        "",
        [flag.to_dict() for flag in found.flags],
    )
