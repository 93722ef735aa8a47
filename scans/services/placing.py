"""Where a scan's areas lie: what the lab found is kept, what a member sets stands above it."""

from dataclasses import asdict, dataclass, field

import numpy as np
from django.db import transaction

from scans.models import Placement, Scan


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
def store_found_areas(*, scan_id: int, found: FoundAreas) -> Placement:
    """Keep what was found as the scan's newest placement, unless the newest says the same."""
    scan = Scan.objects.select_for_update().get(pk=scan_id)
    newest = scan.placements.order_by("-number").first()
    content = asdict(found)
    if newest is not None and newest.origin == Placement.Origin.FOUND and _content(newest) == content:
        return newest
    return Placement.objects.create(
        scan=scan,
        number=newest.number + 1 if newest else 1,
        origin=Placement.Origin.FOUND,
        **content,
    )


def _content(placement: Placement) -> dict:
    return {name: getattr(placement, name) for name in FoundAreas.__dataclass_fields__}


def corners_of(area) -> list:
    """An area's corners as they are kept."""
    return np.round(area.corners, 2).tolist()
