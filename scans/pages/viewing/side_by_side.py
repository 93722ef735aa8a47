"""Scans side by side as a page, and the still pictures of which it is made without script and in print."""

from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from curves.pages.access import readers_only
from curves.pages.compare_tabs import carried, carried_query, compare_tabs
from scans.imaging.target_layout import HOUSE_TARGET
from scans.pages.viewing.selection import Selection
from scans.queries import side_by_side as queries
from scans.queries.crops import SIZE_PX, Crop, crop_picture
from scans.queries.panes import Pane
from scans.queries.stills import (
    ASSUMED_SCREEN_PPI,
    MATCHES,
    PRINT_SCALES,
    REGIONS,
    TONES,
    still_query,
    still_width,
)
from scans.services.viewing import renewing_tiles


@require_safe
@readers_only
def side_by_side(request):
    """Show the chosen frames and prints on one place of the target, at one magnification."""
    selection = Selection.from_query(request.GET)
    standards, stocks = carried(request.GET)
    if stocks and not selection.scans:
        scans = urlencode([("scan", pk) for pk in _frames_of(request, standards, stocks)])
        if scans:
            return redirect(f"{request.path}?{scans}&{carried_query(standards, stocks)}")
    view = queries.side_by_side(request.user, list(selection.scans))
    newest = queries.newest_of_each_stock(request.user)
    address = reverse("side_by_side")
    context = {
        "selection": selection,
        "view": view,
        "standards": standards,
        "stocks": stocks,
        "tabs": compare_tabs("side_by_side", standards, stocks),
        "pickers": _pickers(request.user, selection),
        "choices": _choices(selection),
        "newest_url": f"{address}?{urlencode([('scan', pk) for pk in newest])}" if len(newest) > 1 else "",
        "is_short": view is not None and len(view.panes) < queries.FEWEST,
    }
    if view:
        width = still_width(view, selection)
        context |= {
            "permalink": request.build_absolute_uri(f"{address}?{selection.query()}"),
            "panes": [(pane, _still(view, pane, selection, width)) for pane in view.panes],
            "source": _source(view, selection),
            "still_width": SIZE_PX[0],
            "still_height": SIZE_PX[1],
            "place_words": REGIONS[selection.region],
            "screen_ppi": ASSUMED_SCREEN_PPI,
        }
    return render(request, "scans/viewing/side_by_side.html", context)


def _frames_of(request, standards: str, stocks: tuple[int, ...]) -> list[int]:
    """The newest frames of these stocks; it is said of which there is none.

    Under standards that are named, their house reference stands first, as everywhere in a comparison.
    """
    first = queries.reference_under(standards)
    wanted = list(dict.fromkeys([*([first] if first else []), *stocks]))[: queries.MOST]
    scans, without = queries.frames_of_stocks(request.user, wanted)
    if without:
        messages.warning(request, f"No frame is scanned yet of {', '.join(without)}.")
    return scans


@require_safe
@readers_only
def crop(request, scan_id):
    """Send a part of a scan as a picture."""
    with renewing_tiles(scan_id=scan_id):
        content = crop_picture(request.user, scan_id, Crop.from_query(request.GET))
    response = HttpResponse(content, content_type="image/png")
    response["Cache-Control"] = "private, max-age=300"
    return response


def _pickers(user, selection: Selection) -> list[dict]:
    """A list to choose from for each chosen scan, and one more."""
    offered = queries.offered_pictures(user)
    count = min(max(queries.FEWEST, len(selection.scans) + 1), queries.MOST)
    chosen = [*selection.scans, *[None] * count][:count]
    return [{"number": index + 1, "chosen": pk, "stocks": offered} for index, pk in enumerate(chosen)]


def _choices(selection: Selection) -> list[dict]:
    named = [
        ("region", "Place", REGIONS),
        ("match", "Tones", MATCHES),
        ("tone", "Shown as", TONES),
        ("print_scale", "Size", PRINT_SCALES),
    ]
    return [
        {"name": name, "label": label, "options": list(options.items()), "chosen": getattr(selection, name)}
        for name, label, options in named
    ]


def _still(view: queries.SideBySide, pane: Pane, selection: Selection, width: float) -> str:
    """The address of a pane's still picture."""
    told = urlencode(still_query(view, pane, selection, width))
    return f"{reverse('scan_crop', args=[pane.scan.pk])}?{told}"


def _source(view: queries.SideBySide, selection: Selection) -> dict:
    """What the page's script is told."""
    x, y = selection.place
    regions = [
        {"label": name, "x": place.x, "y": place.y, "w": place.w, "h": place.h}
        for name in view.regions
        for place in [HOUSE_TARGET.region(name)]
    ]
    return {
        "basis": view.basis,
        "margin": queries.MARGIN,
        "sheet": [HOUSE_TARGET.width, HOUSE_TARGET.height],
        "regions": regions,
        "panes": [pane.to_dict(view.basis, view.density_range) for pane in view.panes],
        "place": {"x": x, "y": y, "zoom": selection.zoom},
        "has_place": selection.zoom is not None,
    }
