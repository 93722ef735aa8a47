"""Pictures of scans for looking at: who sees which, their tiles, and what the area editor is given."""

import json
from pathlib import Path

from django.db.models import QuerySet
from django.urls import reverse

from curves.models import RollState
from labsite.accounts.queries import may_read_accepted
from labsite.common.access import is_member
from labsite.common.errors import NotFound
from scans.imaging.target_layout import HOUSE_TARGET
from scans.models import Placement, Scan, TilePyramid
from scans.queries.calibrations import calibration_for
from scans.queries.tablets import STEPS, TARGET, fits_layout, layout_of


def scans_open_to(user) -> QuerySet[Scan]:
    """Return the scans whose picture this person may see: members all, visitors those of accepted rolls."""
    scans = Scan.objects.filter(is_discarded=False)
    if is_member(user):
        return scans
    if may_read_accepted(user):
        return scans.filter(roll__state=RollState.ACCEPTED)
    return scans.none()


def tile_path(user, *, pyramid_id: int, level: int, column: int, row: int, kind: str) -> Path:
    """Return where a tile lies that this person may see; NotFound for any other."""
    pyramid = TilePyramid.objects.filter(pk=pyramid_id, file__scans__in=scans_open_to(user)).first()
    if pyramid is None or kind != pyramid.document["format"]:
        raise NotFound("There is no such tile, or it is not open to you.")
    path = pyramid.folder / str(level) / f"{column}_{row}.{kind}"
    if not path.is_file():
        raise NotFound("There is no such tile.")
    return path


def thumbnail_path(user, scan_id: int) -> Path:
    """Return where the small picture of a scan lies that this person may see; NotFound otherwise."""
    scan = scans_open_to(user).filter(pk=scan_id).select_related("file", "scanner").first()
    pyramid = scan and shown_pyramid(scan)
    if not pyramid or not pyramid.is_on_disk:
        raise NotFound("There is no picture of this scan yet, or it is not open to you.")
    return pyramid.thumbnail_path


def shown_pyramid(scan: Scan) -> TilePyramid | None:
    """Return the tiles to show a scan by: of its own calibration's densities, else of its levels."""
    pyramids = {pyramid.calibration_id: pyramid for pyramid in scan.file.pyramids.all()}
    if set(pyramids) <= {None}:
        return pyramids.get(None)
    row = calibration_for(scan).row
    return pyramids.get(row.pk if row else None) or pyramids.get(None)


def tile_source(pyramid: TilePyramid) -> dict:
    """Return what a browser must know to ask for tiles."""
    document = pyramid.document
    address = reverse("scan_tile", args=[pyramid.pk, 0, 1, 2, document["format"]])
    return {
        "pyramid_id": pyramid.pk,
        "levels": document["levels"],
        "tile_px": document["tile_px"],
        "url_template": address.replace("/0/1_2.", "/{level}/{column}_{row}."),
    }


def editor_source(scan: Scan, placement: Placement | None, *, measured=()) -> dict:
    """Return what `_area_editor.html` shows of a scan, whose placement may be for what it showed before.

    ``measured`` holds, for each area that was read, ``{"label", "text", "flags"}``.
    """
    pyramid = shown_pyramid(scan)
    if pyramid is not None and not pyramid.is_on_disk:
        pyramid = None
    if placement is not None and not fits_layout(placement, scan):
        placement = None
    layout = placement.layout if placement else layout_of(scan)
    told = {each["label"]: each for each in measured}
    areas = placement.areas if placement else []
    outline = placement.outline if placement else []
    source = {
        "width": scan.file.width_px,
        "height": scan.file.height_px,
        "tiles": tile_source(pyramid) if pyramid else None,
        "preview_url": reverse("scan_thumbnail", args=[scan.pk]) if pyramid else "",
        "is_by_density": bool(pyramid and pyramid.calibration_id),
        "layout": layout,
        "steps": _steps_of(layout) or len(areas) or None,
        "darkens": placement.darkens if placement else "",
        "outline": outline,
        "outline_text": json.dumps(outline) if outline else "",
        "areas": [
            {
                "label": area["label"],
                "corners": area["corners"],
                "text": told.get(area["label"], {}).get("text", ""),
                "flags": told.get(area["label"], {}).get("flags", []),
            }
            for area in areas
        ],
    }
    return source | (_target() if layout == TARGET else {})


def _steps_of(layout: str) -> int | None:
    number = layout.removeprefix(f"{STEPS}-")
    return int(number) if number.isdecimal() else None


def _target() -> dict:
    """The target's patches, from which the editor computes the areas as the server will."""
    return {
        "sheet": [HOUSE_TARGET.width, HOUSE_TARGET.height],
        "patches": [
            {"label": patch.label, "x": patch.x, "y": patch.y, "w": patch.w, "h": patch.h}
            for patch in HOUSE_TARGET.patches
        ],
    }
