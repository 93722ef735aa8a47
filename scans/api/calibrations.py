"""Calibrations and trials of scanners: read, made, voided."""

from rest_framework import serializers

from curves.api.labels import RollLabelSerializer
from labsite.accounts.api.access import Admins, Members
from labsite.accounts.api.documents import operation
from labsite.accounts.api.fields import Asked, Choice, Given, PersonSerializer, identifier, text, whole
from labsite.accounts.api.views import LabView
from labsite.jobs.api import JobSerializer
from scans.api.scans import ScannerLabelSerializer
from scans.models import CalibrationState
from scans.queries.scan_list import visible_scan
from scans.queries.scanners import calibration_page, portable_calibration, visible_calibrations
from scans.queries.trials import visible_trials
from scans.services.calibrating import calibrate_scanner
from scans.services.trials import try_scanner
from scans.services.voiding import void_calibration


class ScannerCalibrationSerializer(serializers.Serializer):
    """One scanner's response with one set of settings."""

    id = serializers.IntegerField()
    scanner = ScannerLabelSerializer()
    scan_id = serializers.IntegerField()
    tablet_revision_id = serializers.IntegerField()
    setup = serializers.DictField(help_text="Scanner and settings that it holds for.")
    made_on = serializers.DateField()
    valid_days = serializers.IntegerField(help_text="Days.")
    state = Choice(CalibrationState)
    void_reason = serializers.CharField()
    drift = serializers.DictField(help_text="Against the calibration before; empty: the first.")
    made_by = PersonSerializer()
    created_at = serializers.DateTimeField()


class RestingRollSerializer(serializers.Serializer):
    """A roll with readings that rest on a calibration."""

    roll = RollLabelSerializer()
    reading_count = serializers.IntegerField(help_text="Readings that still stand.")


class OneScannerCalibrationSerializer(ScannerCalibrationSerializer):
    """A calibration with its document and what rests on it."""

    document = serializers.DictField(
        help_text="As `measure_scan --calibration` reads it: under the settings that the scan's file tells."
    )
    rolls = RestingRollSerializer(many=True)


class CalibrationsAskedSerializer(Asked):
    """Which calibrations are wanted."""

    scanner_id = identifier(required=False)
    state = Choice(CalibrationState, required=False)


class CalibrateSerializer(Given):
    """For how long it is to hold."""

    valid_days = whole(required=False, help_text="Days; 30 unless said otherwise.")


class VoidSerializer(Given):
    """Why it can't be trusted."""

    reason = text(help_text="Whoever used it will read this.")


class TrialSerializer(serializers.Serializer):
    """What a scanner adds itself with one set of settings."""

    id = serializers.IntegerField()
    scanner = ScannerLabelSerializer()
    setup = serializers.DictField()
    document = serializers.DictField(help_text="Noise by transmittance, and MTF by frequency (cycles/mm).")
    is_in_force = serializers.BooleanField()
    made_by = PersonSerializer()
    created_at = serializers.DateTimeField()


class NewTrialSerializer(Given):
    """Scans of one set-up."""

    edge_id = identifier(required=False, allow_null=True, help_text="A scan of a sharp edge.")
    repeats = serializers.ListField(
        child=serializers.ListField(child=identifier(), min_length=2, max_length=2),
        required=False,
        max_length=8,
        help_text="Pairs of scans of the same even field.",
    )


class Calibrations(LabView):
    """The lab's calibrations of scanners."""

    @operation(access=Members, asks=CalibrationsAskedSerializer, lists=ScannerCalibrationSerializer)
    def get(self, request):
        """List calibrations of scanners, newest first."""
        return self.paged(
            ScannerCalibrationSerializer,
            visible_calibrations(request.user).filter(**self.asked(CalibrationsAskedSerializer)),
        )


class OneCalibration(LabView):
    """One calibration."""

    @operation(access=Members, answer=OneScannerCalibrationSerializer, refusals=(404,))
    def get(self, request, calibration_id: int):
        """Read one calibration with what rests on it."""
        shown = calibration_page(request.user, calibration_id)
        row = shown.row
        row.rolls = [{"roll": roll, "reading_count": count} for roll, count in shown.resting.rolls]
        row.document = portable_calibration(row)
        return self.answer(OneScannerCalibrationSerializer, row)


class VoidCalibration(LabView):
    """Taking a calibration out of use."""

    @operation(access=Admins, body=VoidSerializer, answer=ScannerCalibrationSerializer, refusals=(404, 409))
    def post(self, request, calibration_id: int):
        """Void a calibration; what rests on it is measured anew, and nothing is deleted."""
        row = void_calibration(
            actor=request.user, calibration_id=calibration_id, **self.given(VoidSerializer)
        )
        return self.answer(ScannerCalibrationSerializer, row)


class Calibrate(LabView):
    """Calibrating from a scan."""

    @operation(access=Members, body=CalibrateSerializer, answer=JobSerializer, refusals=(404, 409))
    def post(self, request, scan_id: int):
        """Calibrate the scanner from a scan of the step tablet."""
        visible_scan(request.user, scan_id)
        job = calibrate_scanner(actor=request.user, scan_id=scan_id, **self.given(CalibrateSerializer))
        return self.answer(JobSerializer, job)


class Trials(LabView):
    """Trials of scanners."""

    @operation(access=Members, lists=TrialSerializer)
    def get(self, request):
        """List trials of scanners, newest first."""
        return self.paged(TrialSerializer, visible_trials(request.user))

    @operation(access=Members, body=NewTrialSerializer, answer=JobSerializer)
    def post(self, request):
        """Try a scanner for what it adds itself, from repeated fields, a sharp edge, or both."""
        given = {"edge_id": None} | self.given(NewTrialSerializer)
        return self.answer(JobSerializer, try_scanner(actor=request.user, **given))
