"""Looking for what a scan is said to show: a tablet, a strip, a target; fields and edges fill the picture."""

import numpy as np

from scans.imaging.locate import locate_tablet
from scans.imaging.locate_target import locate_target
from scans.imaging.measures import Refusal
from scans.imaging.picture import Picture
from scans.models import Scan, Shows
from scans.queries.tablets import film_steps, tablet_revision_of
from scans.services.placing import FoundAreas


def found_areas(scan: Scan, picture: Picture) -> FoundAreas:
    """What lies where, or why nothing was found."""
    if scan.shows in (Shows.TABLET, Shows.STRIP):
        return _found_steps(scan, picture)
    if scan.shows in (Shows.FRAME, Shows.PRINT):
        return _found_target(picture)
    right, bottom = picture.width - 1, picture.height - 1
    corners = [[0, 0], [right, 0], [right, bottom], [0, bottom]]
    return FoundAreas("whole", [{"label": "whole picture", "corners": corners}], corners)


def _found_steps(scan: Scan, picture: Picture) -> FoundAreas:
    revision = tablet_revision_of(scan)
    numbers = [] if revision is None else film_steps(revision, is_film=scan.shows == Shows.STRIP)
    found = locate_tablet(picture, len(numbers) or None, is_distinct=scan.shows == Shows.TABLET)
    if isinstance(found, Refusal):
        return FoundAreas(f"steps-{len(numbers) or 21}", refusal_code=found.code, refusal_text=found.text)
    numbers = numbers or list(range(1, len(found.areas) + 1))
    return FoundAreas(
        f"steps-{len(numbers)}",
        [
            {"label": f"step {number}", "step": number, "corners": corners_of(area)}
            for number, area in zip(numbers, found.areas, strict=True)
        ],
        np.round(found.outline, 2).tolist(),
        found.darkens,
        [flag.to_dict() for flag in found.flags],
    )


def _found_target(picture: Picture) -> FoundAreas:
    found = locate_target(picture)
    if isinstance(found, Refusal):
        return FoundAreas("target", refusal_code=found.code, refusal_text=found.text)
    return FoundAreas(
        "target",
        [{"label": area.label, "corners": corners_of(area)} for area in found.areas],
        np.round(found.outline, 2).tolist(),
        "",
        [flag.to_dict() for flag in found.flags],
    )


def corners_of(area) -> list:
    """An area's corners as they are kept."""
    return np.round(area.corners, 2).tolist()
