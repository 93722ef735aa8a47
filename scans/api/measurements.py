"""What was measured on a scan: read, asked for anew, taken into a roll."""

from rest_framework import serializers

from curves.api.picture_measures import PictureMeasureSerializer
from curves.api.roll_documents import StepField
from labsite.accounts.api.access import Members
from labsite.accounts.api.documents import operation
from labsite.accounts.api.fields import Choice, Given, PersonSerializer, identifier, text
from labsite.accounts.api.views import LabView
from labsite.common.errors import NotFound
from labsite.jobs.api import JobSerializer
from scans.models import Measurement, MeasurementKind
from scans.queries.measured import current_measurement
from scans.queries.scan_list import visible_scan
from scans.queries.taking import taking_preview
from scans.services.measuring import measure_again
from scans.services.taking import take_densities
from scans.services.taking_pictures import take_picture

DOCUMENT = (
    "`areas` with `density` {value, low, high, unit, reason, note}, `step` (0: unexposed), `usable_pixels`, "
    "`left_out` and `flags`; for grain `patches`, `series` and `rms_granularity`; for an edge `edge`; "
    "`withheld` {code, text, advice} where no calibration holds."
)


class MeasurementSerializer(serializers.Serializer):
    """One measurement; it never changes."""

    id = serializers.IntegerField()
    scan_id = serializers.IntegerField()
    kind = Choice(MeasurementKind)
    is_current = serializers.BooleanField(help_text="Whether it stands.")
    calibration_id = serializers.IntegerField(allow_null=True)
    trial_id = serializers.IntegerField(allow_null=True)
    placement_id = serializers.IntegerField(allow_null=True)
    engine_version = serializers.CharField()
    input_digest = serializers.CharField(help_text="SHA-256 of everything that it rests on.")
    document = serializers.DictField(help_text=DOCUMENT)
    created_at = serializers.DateTimeField()


class MeasureAgainSerializer(Given):
    """How to measure again."""

    is_found_anew = serializers.BooleanField(
        required=False, help_text="Have the lab look for the areas, even where they were placed by hand."
    )


class TakenStepSerializer(serializers.Serializer):
    """One step of what would be taken."""

    step = StepField(help_text="Number of the step, or “unexposed”.")
    density = serializers.FloatField(allow_null=True, help_text="Gross density; null: left out.")
    standing = serializers.FloatField(allow_null=True, help_text="The first reading that stands now.")
    left_out = serializers.CharField(help_text="Why it is left out; empty: it is not.")
    flags = serializers.ListField(child=serializers.CharField())


class TakingSerializer(serializers.Serializer):
    """What taking the densities would do."""

    measurement_id = serializers.IntegerField(source="measurement.id")
    roll_id = serializers.IntegerField(source="roll.id")
    strip_number = serializers.IntegerField(source="grid.strip.number")
    version = serializers.CharField(source="grid.version", help_text="Of the readings that stand now.")
    steps = TakenStepSerializer(many=True)


class TakeSerializer(Given):
    """Which measurement is to be taken, over which readings."""

    measurement_id = identifier(help_text="The one that was looked at; refused if another stands by now.")
    version = text(required=False, help_text="Of the readings looked at; refused if others stand by now.")
    reason = text(required=False, max_length=200, help_text="Why readings that stand are replaced.")


class TransferSerializer(serializers.Serializer):
    """Densities that became readings."""

    id = serializers.IntegerField()
    measurement_id = serializers.IntegerField()
    roll_id = serializers.IntegerField(source="strip.roll_id")
    strip_number = serializers.IntegerField(source="strip.number")
    reading_count = serializers.IntegerField(source="readings.count")
    taken_by = PersonSerializer()
    created_at = serializers.DateTimeField()


class Measurements(LabView):
    """All measurements of a scan."""

    @operation(access=Members, lists=MeasurementSerializer, refusals=(404,))
    def get(self, request, scan_id: int):
        """List every measurement of a scan, newest first."""
        scan = visible_scan(request.user, scan_id)
        return self.paged(MeasurementSerializer, Measurement.objects.filter(scan=scan))


class StandingMeasurement(LabView):
    """The measurement that stands."""

    @operation(access=Members, answer=MeasurementSerializer, refusals=(404,))
    def get(self, request, scan_id: int):
        """Read the measurement that stands."""
        measurement = current_measurement(visible_scan(request.user, scan_id))
        if measurement is None:
            raise NotFound("There is no measurement of this scan that stands.")
        return self.answer(MeasurementSerializer, measurement)


class MeasureAgain(LabView):
    """Measuring again."""

    @operation(access=Members, body=MeasureAgainSerializer, answer=JobSerializer, refusals=(404, 409))
    def post(self, request, scan_id: int):
        """Have a scan measured again."""
        visible_scan(request.user, scan_id)
        job = measure_again(actor=request.user, scan_id=scan_id, **self.given(MeasureAgainSerializer))
        return self.answer(JobSerializer, job)


class TakeDensities(LabView):
    """Densities as readings."""

    @operation(access=Members, answer=TakingSerializer, refusals=(404, 409))
    def get(self, request, scan_id: int):
        """Read what taking the densities into the roll's strip would do, step by step."""
        visible_scan(request.user, scan_id)
        return self.answer(TakingSerializer, taking_preview(request.user, scan_id))

    @operation(
        access=Members, body=TakeSerializer, answer=TransferSerializer, status=201, refusals=(404, 409)
    )
    def post(self, request, scan_id: int):
        """Store the densities as readings of the roll's strip; withheld steps are left as they are."""
        visible_scan(request.user, scan_id)
        transfer = take_densities(actor=request.user, scan_id=scan_id, **self.given(TakeSerializer))
        return self.answer(TransferSerializer, transfer, status=201)


class TakePicture(LabView):
    """Grain or sharpness of a scan for its roll."""

    @operation(access=Members, answer=PictureMeasureSerializer, status=201, refusals=(404, 409))
    def post(self, request, scan_id: int):
        """Let the granularity or MTF50 of a scan stand for its roll; once accepted, only an admin may."""
        visible_scan(request.user, scan_id)
        taken = take_picture(actor=request.user, scan_id=scan_id)
        return self.answer(PictureMeasureSerializer, taken, status=201)
