"""Scans for scripts: lists of them, one of them, what it shows, discarding it."""

from rest_framework import serializers

from curves.api.labels import RollLabelSerializer
from labsite.accounts.api.access import Members
from labsite.accounts.api.documents import operation
from labsite.accounts.api.fields import Asked, Choice, Given, Number, PersonSerializer, identifier, text
from labsite.accounts.api.views import LabView
from scans.models import FileState, Shows
from scans.queries.scan_list import ScanFilter, listed_scans, visible_scan
from scans.services.describing import describe_scan, discard_scan

SHOWS_UNKNOWN = "What it shows; empty: nobody said yet."


class FileSerializer(serializers.Serializer):
    """The file of a scan and what the check found in it."""

    digest = serializers.CharField(help_text="SHA-256 of the content.")
    size_bytes = serializers.IntegerField()
    state = Choice(FileState)
    refusal_code = serializers.CharField(help_text="Kind of the refusal, for programs.")
    refusal_text = serializers.CharField(help_text="Why it can't be read, or not be measured.")
    format = serializers.CharField()
    width_px = serializers.IntegerField(allow_null=True)
    height_px = serializers.IntegerField(allow_null=True)
    channels = serializers.IntegerField(allow_null=True)
    bit_depth = serializers.IntegerField(allow_null=True)
    resolution_x_ppi = serializers.FloatField(allow_null=True)
    resolution_y_ppi = serializers.FloatField(allow_null=True)
    metadata = serializers.DictField(
        child=serializers.CharField(), help_text="Make, model, software, colour profile, compression."
    )
    checked_at = serializers.DateTimeField(allow_null=True)


class ScannerLabelSerializer(serializers.Serializer):
    """An instrument or tablet."""

    id = serializers.IntegerField()
    name = serializers.CharField()


class ScanSerializer(serializers.Serializer):
    """A scan: its file, what it shows and how it was made."""

    id = serializers.IntegerField()
    code = serializers.CharField()
    filename = serializers.CharField()
    member = PersonSerializer()
    shows = Choice(Shows, help_text=SHOWS_UNKNOWN)
    roll = RollLabelSerializer(allow_null=True)
    strip_id = serializers.IntegerField(allow_null=True)
    tablet = ScannerLabelSerializer(allow_null=True)
    frame_label = serializers.CharField()
    scanner = ScannerLabelSerializer(allow_null=True)
    settings = serializers.DictField(child=serializers.CharField(), help_text="What was set on the scanner.")
    told_resolution_ppi = serializers.FloatField(
        allow_null=True, help_text="Pixels per inch, where the member told them."
    )
    told_resolution_reason = serializers.CharField()
    scanned_on = serializers.DateField(allow_null=True)
    notes = serializers.CharField()
    created_at = serializers.DateTimeField()
    file = FileSerializer()


class SettingsSerializer(Given):
    """What was set on the scanner; a calibration holds for scans with the same settings."""

    holder = text(required=False)
    light = text(required=False)
    mode = text(required=False)
    exposure = text(required=False)
    corrections = text(required=False, help_text="`off` when sharpening and dust removal were off.")


class DescriptionSerializer(Given):
    """What a scan shows and how it was made; what is not given stays."""

    shows = Choice(Shows, required=False)
    roll_id = identifier(required=False, allow_null=True)
    strip_id = identifier(required=False, allow_null=True, help_text="Id of a strip of the roll.")
    tablet_id = identifier(required=False, allow_null=True)
    scanner_id = identifier(required=False, allow_null=True, help_text="Number of an instrument.")
    settings = SettingsSerializer(required=False)
    told_resolution_ppi = Number(required=False, allow_null=True, help_text="Pixels per inch.")
    told_resolution_reason = text(required=False, help_text="Why it is not what the file says.")
    scanned_on = serializers.DateField(required=False, allow_null=True)
    frame_label = text(required=False, max_length=40)
    notes = text(required=False)


class ScansAskedSerializer(Asked):
    """Which scans are wanted."""

    shows = serializers.CharField(required=False, help_text="As of a scan; `unknown`: nobody said yet.")
    state = Choice(FileState, required=False)
    roll_id = identifier(required=False)
    scanner_id = identifier(required=False)
    member_id = identifier(required=False)
    is_mine = serializers.BooleanField(required=False)


class DiscardSerializer(Given):
    """Why a scan is discarded."""

    reason = text(required=False, max_length=500)


class Scans(LabView):
    """The lab's scans."""

    @operation(access=Members, asks=ScansAskedSerializer, lists=ScanSerializer)
    def get(self, request):
        """List scans, newest first."""
        wanted = ScanFilter(**self.asked(ScansAskedSerializer))
        return self.paged(ScanSerializer, listed_scans(request.user, wanted).order_by("-pk"))


class OneScan(LabView):
    """One scan."""

    @operation(access=Members, answer=ScanSerializer, refusals=(404,))
    def get(self, request, scan_id: int):
        """Read one scan with what the check of its file found."""
        return self.answer(ScanSerializer, visible_scan(request.user, scan_id))

    @operation(access=Members, body=DescriptionSerializer, answer=ScanSerializer, refusals=(404, 409))
    def patch(self, request, scan_id: int):
        """Say what a scan shows and how it was made; then it is measured."""
        given = self.given(DescriptionSerializer)
        scan = visible_scan(request.user, scan_id)
        known = {name: getattr(scan, name) for name in DescriptionSerializer().fields}
        if given.get("roll_id", scan.roll_id) != scan.roll_id:
            known["strip_id"] = None
        describe_scan(actor=request.user, scan_id=scan_id, **known | given)
        return self.answer(ScanSerializer, visible_scan(request.user, scan_id))


class DiscardScan(LabView):
    """Taking a scan away."""

    @operation(access=Members, body=DiscardSerializer, status=204, refusals=(404, 409))
    def post(self, request, scan_id: int):
        """Take a scan that nothing rests on out of the lab's lists."""
        discard_scan(actor=request.user, scan_id=scan_id, **self.given(DiscardSerializer))
        return self.nothing()
