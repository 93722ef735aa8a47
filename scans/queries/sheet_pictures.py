"""What is seen of a film on its sheet: a small picture of an edge, and frames to be set side by side."""

import hashlib
from dataclasses import dataclass

import imagecodecs

from curves.models import HouseReference, StockResult
from scans.models import Measurement, MeasurementKind, Scan, Shows
from scans.queries.crops import Crop, cropped
from scans.queries.panes import MM_PER_INCH
from scans.queries.setups import resolution_of
from scans.queries.tiles import shown_pyramid

CROP_WIDTH_MM = 3.0
"""What the small picture shows of the film: about what an eye takes in of a print magnified 25 times [mm]."""


@dataclass(frozen=True)
class SheetPictures:
    """What a sheet's content says of its pictures, and the small picture itself."""

    documents: dict
    png: bytes | None


def sheet_pictures(result: StockResult) -> SheetPictures:
    """Return the newest edge of the standing result's own rolls, and the frames of stock and reference."""
    scan = _newest_edge(result)
    png = _png_of_edge(scan) if scan else None
    return SheetPictures({"crop": _crop(scan, png) if png else None, "frames": _frames(result)}, png)


def _newest_edge(result: StockResult) -> Scan | None:
    """The scan of the newest standing measurement of sharpness."""
    found = Measurement.objects.filter(
        kind=MeasurementKind.EDGE,
        is_current=True,
        scan__roll__in=result.pooled.analyses.values("roll_id"),
        scan__is_discarded=False,
        scan__file__pyramids__isnull=False,
    )
    related = ("scan__file", "scan__scanner", "scan__roll")
    newest = found.select_related(*related).order_by("-pk").first()
    return newest.scan if newest else None


def _png_of_edge(scan: Scan) -> bytes | None:
    """A part of an edge's scan as a positive; None without tiles or without a known scale."""
    pyramid, resolution = shown_pyramid(scan), resolution_of(scan)
    if pyramid is None or resolution is None:
        return None
    width = min(CROP_WIDTH_MM * resolution[0] / MM_PER_INCH, pyramid.document["width"])
    is_density = pyramid.document["coding"]["kind"] == "density"
    factor, added = (1.0, 0.0) if is_density else (-1.0, 1.0)
    middle = pyramid.document["width"] / 2, pyramid.document["height"] / 2
    crop = Crop(x=middle[0], y=middle[1], width=width, factor=factor, added=added)
    return bytes(imagecodecs.png_encode(cropped(pyramid, crop), level=9))


def _crop(scan: Scan, png: bytes) -> dict:
    px_per_mm = resolution_of(scan)[0] / MM_PER_INCH
    width = min(CROP_WIDTH_MM, scan.file.width_px / px_per_mm)
    return {
        "picture": hashlib.sha256(png).hexdigest(),
        "scan": scan.code,
        "roll": scan.roll.code,
        "width_mm": round(width, 2),
    }


def _frames(result: StockResult) -> list[int]:
    """The newest photographed frame of the stock and of the house reference, to be seen side by side."""
    pair = {"process_revision": result.process_revision_id, "exposure_revision": result.exposure_revision_id}
    appointed = HouseReference.objects.filter(**pair, ended_at__isnull=True).values_list(
        "stock_id", flat=True
    )
    stocks = list(dict.fromkeys([result.stock_id, *appointed]))
    seen = Scan.objects.filter(
        shows=Shows.FRAME,
        is_discarded=False,
        file__pyramids__isnull=False,
        roll__state="accepted",
        roll__batch__stock__in=stocks,
        **{f"roll__{name}": value for name, value in pair.items()},
    )
    newest: dict[int, int] = {}
    for pk, stock_id in seen.distinct().order_by("-pk").values_list("pk", "roll__batch__stock_id"):
        newest.setdefault(stock_id, pk)
    return [newest[stock_id] for stock_id in stocks if stock_id in newest]
