"""What scans of a result's own rolls tell on the sheet: grain, sharpness, a small picture of an edge."""

import hashlib
from dataclasses import dataclass

import imagecodecs

from curves.models import HouseReference, PooledAnalysis, StockResult
from scans.imaging.aperture import APERTURE_UM
from scans.imaging.flags import REASONS
from scans.models import Measurement, MeasurementKind, Scan, Shows
from scans.queries.crops import Crop, cropped
from scans.queries.panes import MM_PER_INCH
from scans.queries.setups import day_of, resolution_of
from scans.queries.tiles import shown_pyramid

CROP_WIDTH_MM = 3.0
"""What the small picture shows of the film: about what an eye takes in of a print magnified 25 times [mm]."""
SHARPNESS = {"mtf50": "mtf50_cycles_per_mm", "film_mtf50": "film_mtf50_cycles_per_mm"}


@dataclass(frozen=True)
class SheetPictures:
    """The documents for a sheet's content, and the small picture that belongs to it."""

    documents: dict
    png: bytes | None


def sheet_pictures(result: StockResult) -> SheetPictures:
    """Return what the scans of a standing result's rolls tell; None for what nobody has scanned."""
    grain, sharpness = (
        _best(_standing(result.pooled, kind), name)
        for kind, name in (
            (MeasurementKind.GRAIN, lambda document: document["rms_granularity"]),
            (MeasurementKind.EDGE, lambda document: document["edge"]["mtf50_cycles_per_mm"]),
        )
    )
    edge = sharpness[0] if sharpness else None
    png = _png_of_edge(edge.scan) if edge else None
    documents = {
        "grain": _grain(*grain) if grain else None,
        "sharpness": _sharpness(*sharpness) if sharpness else None,
        "crop": _crop(edge.scan, png) if png else None,
        "frames": _frames(result),
    }
    return SheetPictures(documents, png)


def _standing(pooled: PooledAnalysis, kind: str) -> list[Measurement]:
    """The standing measurements of a kind on the result's own rolls, newest first."""
    rolls = pooled.analyses.values("roll_id")
    found = Measurement.objects.filter(
        kind=kind, is_current=True, scan__roll__in=rolls, scan__is_discarded=False
    )
    return list(found.select_related("scan__file", "scan__scanner", "scan__roll").order_by("-pk"))


def _best(found: list[Measurement], measure_of) -> tuple[Measurement, int] | None:
    """The newest that has a value, else the newest; and of how many."""
    if not found:
        return None
    with_value = (each for each in found if measure_of(each.document)["value"] is not None)
    return next(with_value, found[0]), len(found)


def _grain(measurement: Measurement, count: int) -> dict:
    document = measurement.document
    return _source(measurement.scan, count) | {
        "rms_granularity": document["rms_granularity"],
        "reason_text": _reason(document["rms_granularity"]),
        "density": document["stated_density"],
        "aperture_um": APERTURE_UM,
        "fields": len(document["series"]),
    }


def _sharpness(measurement: Measurement, count: int) -> dict:
    edge = measurement.document["edge"]
    return _source(measurement.scan, count) | {
        **{name: edge[stored] for name, stored in SHARPNESS.items()},
        "reason_text": _reason(edge["mtf50_cycles_per_mm"]),
        "film_reason_text": _reason(edge["film_mtf50_cycles_per_mm"]),
    }


def _source(scan: Scan, count: int) -> dict:
    return {
        "scan": scan.code,
        "scan_id": scan.pk,
        "roll": scan.roll.code,
        "scanned_on": day_of(scan).isoformat(),
        "scanner": scan.scanner.name if scan.scanner else None,
        "scans": count,
    }


def _reason(measure: dict) -> str:
    return "" if measure["value"] is not None else REASONS.get(measure["reason"], "Withheld.")


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
