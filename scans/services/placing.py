"""Where a scan's areas lie: what the lab found is kept, what a member sets stands above it."""

import math
from dataclasses import asdict, dataclass, field

import numpy as np
from django.db import transaction

from labsite.accounts.services import record_audit
from labsite.common.access import require_member
from labsite.common.errors import InvalidInput, NotFound, WrongState
from scans.imaging import hand_placed
from scans.imaging.target_layout import HOUSE_TARGET
from scans.models import FileState, Placement, Scan, Shows
from scans.queries.measured import measurable_scan, newest_placement
from scans.queries.tablets import STEPS, TARGET, layout_of
from scans.services.measuring import request_measuring

CORNERS = ("first", "second", "third", "fourth")
SMALLEST_SIDE_PX = 12
MOST_AREAS = 12
TURNED = {"right": "left", "left": "right", "up": "down", "down": "up"}
DEFAULT_STEPS = 21
UNEXPOSED = "unexposed"


@dataclass(frozen=True)
class FoundAreas:
    """What was found on a scan, or the refusal that says why nothing was."""

    layout: str
    areas: list = field(default_factory=list)
    outline: list = field(default_factory=list)
    darkens: str = ""
    flags: list = field(default_factory=list)
    refusal_code: str = ""
    refusal_text: str = ""


@transaction.atomic
def store_found_areas(*, scan_id: int, found: FoundAreas, seen_number: int) -> Placement:
    """Keep what was found as the scan's newest placement, unless the newest says the same.

    ``seen_number`` is the placement that stood when the search began (0: none): what somebody placed
    meanwhile is left to stand.
    """
    scan = Scan.objects.select_for_update().get(pk=scan_id)
    newest = newest_placement(scan)
    if newest is not None and newest.number != seen_number:
        return newest
    return _kept(scan, Placement.Origin.FOUND, found)


@transaction.atomic
def place_areas(*, actor, scan_id: int, outline, darkens: str = "", unexposed=None, fields=None) -> Placement:
    """Set the areas by four corners, in pixels from the upper left, and have the scan measured anew.

    Steps also need the way in which they darken. ``unexposed`` are four corners of film that got no light
    (None: as placed before); ``fields`` are further fields, each by its corners, where a scan shows several.
    """
    scan = _own_measurable(actor, scan_id)
    layout = layout_of(scan)
    if layout == STEPS:
        layout = f"{STEPS}-{DEFAULT_STEPS}"
    corners = _checked(scan, outline, "outline")
    extra = _unexposed_before(scan) if unexposed is None else _checked(scan, unexposed, "unexposed")
    more = [_checked(scan, each, f"field {n}") for n, each in enumerate(fields or [], start=2)]
    if len(more) >= MOST_AREAS:
        raise InvalidInput(f"One scan has at most {MOST_AREAS} fields.", field="fields")
    placed = FoundAreas(
        layout,
        _areas(layout, corners, darkens, extra, more),
        np.round(corners, 2).tolist(),
        darkens if layout.startswith(STEPS) else "",
    )
    placement = _kept(scan, Placement.Origin.PLACED, placed, placed_by=actor)
    _remember(actor, scan, placement, "place areas by hand")
    request_measuring(scan=scan, requested_by=actor)
    return placement


@transaction.atomic
def place_unexposed(*, actor, scan_id: int, corners) -> Placement:
    """Say where film lies that got no light, for base plus fog; the other areas stay where they are."""
    scan = _own_measurable(actor, scan_id)
    newest = newest_placement(scan)
    if newest is None or not newest.is_found or scan.shows != Shows.STRIP:
        raise WrongState("There are no steps on this scan to go with it; place them by hand first.")
    box = np.round(_checked(scan, corners, "unexposed"), 2).tolist()
    steps = [area for area in newest.areas if not area.get("is_unexposed")]
    areas = [*steps, {"label": UNEXPOSED, "corners": box, "is_unexposed": True}]
    content = FoundAreas(newest.layout, areas, newest.outline, newest.darkens, newest.flags)
    placement = _kept(scan, Placement.Origin.PLACED, content, placed_by=actor)
    _remember(actor, scan, placement, "place unexposed area")
    request_measuring(scan=scan, requested_by=actor)
    return placement


@transaction.atomic
def turn_strip_over(*, actor, scan_id: int) -> Placement:
    """Say that the steps darken the other way than they were taken to, and have them read anew."""
    scan = _own_measurable(actor, scan_id)
    newest = newest_placement(scan)
    if newest is None or not newest.is_found or newest.darkens not in TURNED:
        raise WrongState("There are no steps on this scan to turn over; place them by hand first.")
    steps = [area for area in newest.areas if not area.get("is_unexposed")]
    rest = [area for area in newest.areas if area.get("is_unexposed")]
    labels = [area["label"] for area in steps]
    turned = [
        {"label": label, "corners": area["corners"]}
        for label, area in zip(labels, reversed(steps), strict=True)
    ]
    content = FoundAreas(newest.layout, turned + rest, newest.outline, TURNED[newest.darkens])
    placement = _kept(scan, Placement.Origin.PLACED, content, placed_by=actor)
    _remember(actor, scan, placement, "turn strip over")
    request_measuring(scan=scan, requested_by=actor)
    return placement


def corners_of(area) -> list:
    """An area's corners as they are kept."""
    return np.round(area.corners, 2).tolist()


def _unexposed_before(scan: Scan) -> list | None:
    newest = newest_placement(scan)
    areas = newest.areas if newest and scan.shows == Shows.STRIP else []
    return next((area["corners"] for area in areas if area.get("is_unexposed")), None)


def _own_measurable(actor, scan_id: int) -> Scan:
    require_member(actor)
    scan = measurable_scan(scan_id)
    if scan is None:
        raise NotFound("There is no such scan.")
    Scan.objects.select_for_update().get(pk=scan_id)
    if scan.shows == Shows.UNKNOWN:
        raise WrongState("Say first what the scan shows; that decides what is to be placed.")
    if scan.file.state != FileState.MEASURABLE:
        raise WrongState(f"The file is {scan.file.get_state_display()}; nothing can be measured on it.")
    return scan


def _areas(layout: str, corners: np.ndarray, darkens: str, unexposed, more) -> list[dict]:
    if layout.startswith(STEPS):
        if darkens not in hand_placed.WAYS:
            raise InvalidInput("Say which way the steps darken: right, left, down or up.", field="darkens")
        placed = hand_placed.place_steps(corners, int(layout.removeprefix(f"{STEPS}-")), darkens)
    elif layout == TARGET:
        placed = hand_placed.place_areas(HOUSE_TARGET, corners)
    else:
        each = [corners, *more]
        names = ["field"] if not more else [f"field {n}" for n in range(1, len(each) + 1)]
        areas = zip(names, each, strict=True)
        return [{"label": name, "corners": np.round(box, 2).tolist()} for name, box in areas]
    areas = [{"label": area.label, "corners": corners_of(area)} for area in placed]
    if unexposed is not None:
        box = np.round(unexposed, 2).tolist()
        areas.append({"label": UNEXPOSED, "corners": box, "is_unexposed": True})
    return areas


def _checked(scan: Scan, corners, name: str) -> np.ndarray:
    """Four corners inside the picture, in order around an area that is big enough; or which is wrong."""
    try:
        points = np.asarray(corners, float)
    except (TypeError, ValueError):
        points = np.empty(0)
    if points.shape != (4, 2) or not np.isfinite(points).all():
        raise InvalidInput("Give four corners, each with x and y in pixels.", field=name)
    width, height = scan.file.width_px, scan.file.height_px
    for which, (x, y) in zip(CORNERS, points, strict=True):
        if not (-0.5 <= x <= width - 0.5 and -0.5 <= y <= height - 0.5):
            raise InvalidInput(
                f"The {which} corner ({x:.0f}, {y:.0f}) is outside the picture, which is {width} by {height} "
                "pixels.",
                field=name,
            )
    for index, which in enumerate(CORNERS):
        x, y = points[index] - points[index - 1]
        if math.hypot(x, y) < SMALLEST_SIDE_PX:
            raise InvalidInput(
                f"The {which} corner is nearer than {SMALLEST_SIDE_PX} pixels to the one before it.",
                field=name,
            )
    crossed = _crossed(points)
    if crossed is not None:
        raise InvalidInput(
            f"The outline bends inwards or crosses itself at the {CORNERS[crossed]} corner; "
            "give the corners in their order around it.",
            field=name,
        )
    return points


def _crossed(points: np.ndarray) -> int | None:
    """The corner at which an outline turns the other way than at most others."""
    before, after = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
    turns = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    sign = 1 if (turns > 0).sum() > 2 else -1 if (turns < 0).sum() > 2 else 1
    wrong = np.flatnonzero(turns * sign <= 0)
    return int(wrong[0]) if wrong.size else None


def _kept(scan: Scan, origin: str, content: FoundAreas, placed_by=None) -> Placement:
    newest = newest_placement(scan)
    if newest is not None and newest.origin == origin and _content(newest) == asdict(content):
        return newest
    return Placement.objects.create(
        scan=scan,
        number=newest.number + 1 if newest else 1,
        origin=origin,
        placed_by=placed_by,
        **asdict(content),
    )


def _content(placement: Placement) -> dict:
    return {name: getattr(placement, name) for name in FoundAreas.__dataclass_fields__}


def _remember(actor, scan: Scan, placement: Placement, action: str) -> None:
    record_audit(
        actor=actor,
        action=action,
        subject=scan,
        after={"placement": placement.number, "outline": placement.outline, "darkens": placement.darkens},
    )
