"""Where a scan's areas lie: read, set by hand, turned over."""

from rest_framework import serializers

from labsite.accounts.api.access import Members
from labsite.accounts.api.documents import operation
from labsite.accounts.api.fields import Choice, Given, Number, PersonSerializer
from labsite.accounts.api.views import LabView
from scans.models import Placement
from scans.queries.scan_list import visible_scan
from scans.services.placing import place_areas, place_unexposed, turn_strip_over

CORNERS = "Four corners (x, y) in pixels, in order around; the centre of the first pixel is 0, 0."
POINT = serializers.ListField(child=serializers.FloatField())
WAYS = ("right", "left", "down", "up")


class CornersField(serializers.ListField):
    """Four corners, each x and y."""

    def __init__(self, **options):
        point = serializers.ListField(child=Number(), min_length=2, max_length=2)
        super().__init__(child=point, min_length=4, max_length=4, **options)


class PlacementSerializer(serializers.Serializer):
    """One placement; the newest stands."""

    id = serializers.IntegerField()
    number = serializers.IntegerField()
    origin = Choice(Placement.Origin)
    layout = serializers.CharField(help_text="steps-21, target, or whole.")
    outline = serializers.ListField(child=POINT, help_text=CORNERS)
    darkens = serializers.CharField(help_text="Which way steps darken; empty where there are none.")
    areas = serializers.ListField(
        child=serializers.DictField(), help_text="Label and corners of every area; steps from the lightest."
    )
    flags = serializers.ListField(child=serializers.DictField())
    refusal_code = serializers.CharField(help_text="Why nothing was found; empty where something was.")
    refusal_text = serializers.CharField()
    placed_by = PersonSerializer(allow_null=True)
    created_at = serializers.DateTimeField()


class NewPlacementSerializer(Given):
    """Where the areas lie."""

    outline = CornersField(help_text=CORNERS)
    darkens = serializers.ChoiceField(
        choices=WAYS, required=False, help_text="Which way steps darken; for steps only."
    )
    unexposed = CornersField(required=False, help_text="Film that got no light; for a strip only.")
    fields_beside = serializers.ListField(
        child=CornersField(), required=False, max_length=11, help_text="More even fields on the same scan."
    )


class UnexposedSerializer(Given):
    """Where film lies that got no light."""

    corners = CornersField(help_text=CORNERS)


class Placements(LabView):
    """Placements of a scan."""

    @operation(access=Members, lists=PlacementSerializer, refusals=(404,))
    def get(self, request, scan_id: int):
        """List the placements of a scan, newest first."""
        scan = visible_scan(request.user, scan_id)
        return self.paged(PlacementSerializer, scan.placements.select_related("placed_by"))

    @operation(
        access=Members,
        body=NewPlacementSerializer,
        answer=PlacementSerializer,
        status=201,
        refusals=(404, 409),
    )
    def post(self, request, scan_id: int):
        """Set the areas by four corners; the scan is measured anew."""
        visible_scan(request.user, scan_id)
        given = self.given(NewPlacementSerializer)
        fields = given.pop("fields_beside", None)
        placement = place_areas(actor=request.user, scan_id=scan_id, fields=fields, **given)
        return self.answer(PlacementSerializer, placement, status=201)


class PlaceUnexposed(LabView):
    """Base plus fog by hand."""

    @operation(
        access=Members, body=UnexposedSerializer, answer=PlacementSerializer, status=201, refusals=(404, 409)
    )
    def post(self, request, scan_id: int):
        """Say where film lies that got no light; the scan is measured anew."""
        visible_scan(request.user, scan_id)
        placement = place_unexposed(actor=request.user, scan_id=scan_id, **self.given(UnexposedSerializer))
        return self.answer(PlacementSerializer, placement, status=201)


class TurnOver(LabView):
    """Steps numbered from the other end."""

    @operation(access=Members, answer=PlacementSerializer, status=201, refusals=(404, 409))
    def post(self, request, scan_id: int):
        """Say that the steps darken the other way; the scan is measured anew."""
        visible_scan(request.user, scan_id)
        placement = turn_strip_over(actor=request.user, scan_id=scan_id)
        return self.answer(PlacementSerializer, placement, status=201)
