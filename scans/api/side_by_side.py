"""Scans side by side for scripts: what the page shows of each, and the pictures themselves."""

from urllib.parse import urlencode

from django.http import HttpResponse
from django.urls import reverse
from drf_spectacular.types import OpenApiTypes
from rest_framework import serializers

from curves.api.engine import MeasureSerializer
from curves.api.labels import RevisionLabelSerializer, RollLabelSerializer, StockLabelSerializer
from labsite.accounts.api.access import Readers
from labsite.accounts.api.documents import operation
from labsite.accounts.api.fields import Asked, Choice, Number, identifier
from labsite.accounts.api.views import LabView
from scans.api.scans import ScannerLabelSerializer
from scans.imaging.target_layout import HOUSE_TARGET
from scans.models import Shows
from scans.queries.crops import LARGEST, SIZE_PX, Crop, crop_picture
from scans.queries.panes import Pane
from scans.queries.side_by_side import (
    MOST,
    SideBySide,
    frames_of_stocks,
    newest_of_each_stock,
    offered_pictures,
    side_by_side,
)
from scans.queries.stills import (
    LARGEST_ZOOM,
    MATCHES,
    PRINT_SCALES,
    REGIONS,
    TONES,
    Look,
    enlargement,
    still_query,
    still_width,
)
from scans.services.viewing import renewing_tiles

UNIT = {"film": "mm on the film", "target": "units of the target"}
BASIS = (
    "film: one enlargement of the film; target: one size of the target, where some resolution is not known "
    "or prints are among them."
)


def _word(choices: dict, **options) -> serializers.ChoiceField:
    return serializers.ChoiceField([name for name in choices if name], required=False, **options)


def _ids(help_text: str) -> serializers.ListField:
    return serializers.ListField(child=identifier(), required=False, max_length=MOST, help_text=help_text)


class SideAskedSerializer(Asked):
    """Which scans are set side by side, on which place of the target, how near, in which tones."""

    scan = _ids(f"Numbers of scans, up to {MOST}, in the order wanted.")
    stock = _ids("Numbers of stocks, of which the newest frame is wanted; only without `scan`.")
    region = _word(REGIONS, help_text="A place of the target; none: the whole of it.")
    match = _word(MATCHES, help_text="density: grey cards at one density; none: as scanned. Else density.")
    tone = _word(TONES, help_text="Else positive.")
    x = Number(required=False, min_value=-1e6, max_value=1e6, help_text="Middle, in units of the target.")
    y = Number(required=False, min_value=-1e6, max_value=1e6, help_text="Given together with `x`.")
    zoom = Number(
        required=False,
        min_value=1e-6,
        max_value=LARGEST_ZOOM,
        help_text="Pixels shown for a millimetre on the film, or for a unit of the target.",
    )
    print_scale = _word(PRINT_SCALES, help_text="As large as on a print, on a screen of 96 pixels an inch.")


class CropAskedSerializer(Asked):
    """Which part of a scan is wanted, in pixels of the scan, and in which tones."""

    x = Number(min_value=-LARGEST, max_value=LARGEST, help_text="Middle, from the left.")
    y = Number(min_value=-LARGEST, max_value=LARGEST, help_text="Middle, from the top.")
    width = Number(min_value=1.0, max_value=LARGEST, help_text="How wide the part is.")
    degrees = Number(required=False, min_value=-360, max_value=360, help_text="Turned clockwise.")
    mirrored = serializers.BooleanField(required=False, help_text="Mirrored left to right, once turned.")
    factor = Number(
        required=False,
        min_value=-LARGEST,
        max_value=LARGEST,
        help_text="Times the code as a share. Else 1.",
    )
    added = Number(required=False, min_value=-LARGEST, max_value=LARGEST, help_text="Added to it. Else 0.")


class PointSerializer(serializers.Serializer):
    """A point."""

    x = serializers.FloatField()
    y = serializers.FloatField()


class RegionSerializer(PointSerializer):
    """A place of the target, in its units, from its upper left corner."""

    label = serializers.CharField()
    w = serializers.FloatField()
    h = serializers.FloatField()


class OfferedSerializer(serializers.Serializer):
    """A frame or print that can be chosen."""

    scan_id = serializers.IntegerField()
    label = serializers.CharField()
    stock = serializers.CharField()


class PaneSerializer(serializers.Serializer):
    """One picture: what it is, where the place lies in it, how its tones are shown, what is unlike."""

    scan_id = serializers.IntegerField()
    scan_code = serializers.CharField()
    shows = Choice(Shows)
    frame_label = serializers.CharField()
    is_reference = serializers.BooleanField(help_text="Whether the others are held against it.")
    stock = StockLabelSerializer(allow_null=True)
    roll = RollLabelSerializer(allow_null=True)
    process_revision = RevisionLabelSerializer(allow_null=True)
    exposure_revision = RevisionLabelSerializer(allow_null=True)
    scanner = ScannerLabelSerializer(allow_null=True)
    resolution_ppi = serializers.FloatField(allow_null=True, help_text="Pixels per inch; null: not known.")
    grey_card = MeasureSerializer(allow_null=True, help_text="Density of the grey card; null: not measured.")
    grey_card_text = serializers.CharField(help_text="The same in words, or why there is none.")
    tone_offset = MeasureSerializer(allow_null=True, help_text="Density added for showing; null: none.")
    tone_text = serializers.CharField(help_text="The same in words, or why nothing is added.")
    is_registered = serializers.BooleanField(help_text="Whether the target was found; else all of it stands.")
    differences = serializers.ListField(
        child=serializers.CharField(), help_text="In what it is not like the reference: process, rig, …"
    )
    middle = PointSerializer(help_text="Of the place, in pixels of the scan.")
    area = PointSerializer(many=True, help_text="Corners of the place, in pixels of the scan.")
    degrees = serializers.FloatField(help_text="By which it is turned clockwise to stand upright.")
    is_mirrored = serializers.BooleanField()
    crop_url = serializers.CharField(help_text="Of the picture, a PNG; ask for it as for this.")


class SideBySideSerializer(serializers.Serializer):
    """Scans of one place of the target, at one size, in tones that can be compared."""

    region = serializers.CharField(help_text="Empty: the whole target.")
    regions = RegionSerializer(many=True)
    place = PointSerializer(help_text="In the middle, in units of the target.")
    basis = serializers.CharField(help_text=f"{BASIS} Empty without a picture.")
    field_width = serializers.FloatField(allow_null=True, help_text="What a picture shows across.")
    field_unit = serializers.CharField()
    width_px = serializers.IntegerField(help_text="Size of each picture.")
    height_px = serializers.IntegerField(help_text="Size of each picture.")
    enlargement = serializers.FloatField(
        allow_null=True, help_text="Of the film on a screen of 96 pixels an inch; null: not known."
    )
    match = serializers.CharField()
    tone = serializers.CharField()
    panes = PaneSerializer(many=True)
    notes = serializers.ListField(
        child=serializers.CharField(), help_text="What is not alike, or not known, about all of them."
    )
    missing = serializers.ListField(
        child=serializers.IntegerField(), help_text="Scans not there, not open to you, or without a picture."
    )
    without_frame = serializers.ListField(
        child=serializers.CharField(), help_text="Stocks of which no frame is scanned."
    )
    newest = serializers.ListField(
        child=serializers.IntegerField(), help_text="The newest frame of each stock, to begin with."
    )
    offered = OfferedSerializer(many=True, help_text="What can be chosen.")
    page_url = serializers.CharField(help_text="The page with the same pictures.")


class ScansSideBySide(LabView):
    """The page Side by side for scripts."""

    @operation(access=Readers, asks=SideAskedSerializer, answer=SideBySideSerializer)
    def get(self, request):
        """Set scans side by side: one place of the target, one size, tones that can be compared."""
        asked = self.asked(SideAskedSerializer)
        scans, without = asked.pop("scan", []), []
        stocks = asked.pop("stock", [])
        if stocks and not scans:
            scans, without = frames_of_stocks(request.user, stocks)
        scans = list(dict.fromkeys(scans))
        look = Look(**asked)
        view = side_by_side(request.user, scans)
        document = {
            "region": look.region,
            "regions": HOUSE_TARGET.regions,
            "place": _point(look.place),
            "match": look.match,
            "tone": look.tone,
            "width_px": SIZE_PX[0],
            "height_px": SIZE_PX[1],
            "without_frame": without,
            "newest": newest_of_each_stock(request.user),
            "offered": [
                {"scan_id": pk, "label": label, "stock": stock}
                for stock, offered in offered_pictures(request.user).items()
                for pk, label in offered
            ],
            "page_url": _page_url(scans, asked),
        }
        return self.answer(SideBySideSerializer, document | _shown(view, look, scans))


class ScanCrop(LabView):
    """A part of a scan as a picture."""

    @operation(
        access=Readers,
        asks=CropAskedSerializer,
        answer=OpenApiTypes.BINARY,
        media="image/png",
        refusals=(404,),
    )
    def get(self, request, scan_id: int):
        """Show a part of a scan as a picture, a PNG of 480 by 320 pixels."""
        asked = self.asked(CropAskedSerializer)
        crop = Crop(is_mirrored=asked.pop("mirrored", False), **asked)
        with renewing_tiles(scan_id=scan_id):
            content = crop_picture(request.user, scan_id, crop)
        return HttpResponse(content, content_type="image/png")

    def perform_content_negotiation(self, request, force=False):
        """Give the picture to those who ask for pictures, too; refusals are JSON all the same."""
        return super().perform_content_negotiation(request, force=True)


def _shown(view: SideBySide | None, look: Look, scans: list[int]) -> dict:
    if view is None:
        nothing = {"basis": "", "field_width": None, "field_unit": "", "enlargement": None}
        return nothing | {"panes": [], "notes": [], "missing": scans}
    width = still_width(view, look)
    return {
        "basis": view.basis,
        "field_width": width,
        "field_unit": UNIT[view.basis],
        "enlargement": enlargement(view, width),
        "panes": [_pane(view, pane, look, width) for pane in view.panes],
        "notes": view.notes,
        "missing": view.missing,
    }


def _pane(view: SideBySide, pane: Pane, look: Look, width: float) -> dict:
    scan, roll = pane.scan, pane.scan.roll
    crop = reverse("api_scan_crop", args=[scan.pk])
    return {
        "scan_id": scan.pk,
        "scan_code": scan.code,
        "shows": scan.shows,
        "frame_label": pane.label,
        "is_reference": pane.is_reference,
        "stock": roll.batch.stock if roll else None,
        "roll": roll,
        "process_revision": roll.process_revision if roll else None,
        "exposure_revision": roll.exposure_revision if roll else None,
        "scanner": scan.scanner,
        "resolution_ppi": pane.frame.ppi,
        "grey_card": pane.grey_density.to_dict() if pane.grey_density else None,
        "grey_card_text": pane.grey_text,
        "tone_offset": pane.match.offset.to_dict() if pane.match else None,
        "tone_text": pane.offset_text if look.match == "density" else "as scanned",
        "is_registered": pane.is_registered,
        "differences": pane.differences,
        "middle": _point(pane.place_of(look.place)),
        "area": [_point(pane.place_of(corner)) for corner in _corners(look.region)],
        "degrees": pane.degrees,
        "is_mirrored": pane.is_mirrored,
        "crop_url": f"{crop}?{urlencode(still_query(view, pane, look, width))}",
    }


def _corners(region: str) -> list[tuple[float, float]]:
    if not region:
        return list(HOUSE_TARGET.corners)
    place = HOUSE_TARGET.region(region)
    right, bottom = place.x + place.w, place.y + place.h
    return [(place.x, place.y), (right, place.y), (right, bottom), (place.x, bottom)]


def _point(place) -> dict[str, float]:
    return {"x": float(place[0]), "y": float(place[1])}


def _page_url(scans: list[int], asked: dict) -> str:
    chosen = urlencode([*(("scan", pk) for pk in scans), *asked.items()])
    address = reverse("side_by_side")
    return f"{address}?{chosen}" if chosen else address
