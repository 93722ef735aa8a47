"""The readings of a strip: read, and stored cell by cell."""

from rest_framework import serializers
from rest_framework.response import Response

from curves.api.labels import CalibrationLabelSerializer
from curves.api.roll_documents import StepField
from curves.models import UNEXPOSED_STEP, Reading
from curves.queries.readings import ReadingGrid, falling_steps, reading_grid, visible_strip
from curves.services.readings import LONGEST_REASON, MOST_REPLICATES, ReadingValue, record_readings
from labsite.accounts.api.access import Members
from labsite.accounts.api.documents import operation
from labsite.accounts.api.fields import Given, Number, identifier, text, whole
from labsite.accounts.api.views import LabView
from labsite.accounts.models import ApiToken
from labsite.jobs.api import JobSerializer
from labsite.jobs.models import Job

VERSION = "The `version` of the readings that you saw; refused if others stand by now."
MOST_CELLS = 2000


class StepSerializer(serializers.Serializer):
    """A step of the strip's tablet, with the exposure that it gave."""

    step = serializers.IntegerField()
    log_exposure = serializers.FloatField(
        help_text="log₁₀ lux·s where the exposure is absolute, else counted from the clear area."
    )
    tablet_density = serializers.FloatField(help_text="Calibrated density.")


class ReadingSerializer(serializers.Serializer):
    """A reading that stands."""

    step = StepField(help_text="Number of the step, or “unexposed”.")
    replicate = serializers.IntegerField()
    density = serializers.FloatField(help_text="Gross density.")


class StepWarningSerializer(serializers.Serializer):
    """A step that falls where it should rise."""

    step = serializers.IntegerField()
    message = serializers.CharField()


class ReadingsSerializer(serializers.Serializer):
    """A strip's standing readings with the exposures of its steps."""

    roll_id = serializers.IntegerField()
    strip_number = serializers.IntegerField()
    tablet_revision = CalibrationLabelSerializer()
    is_absolute = serializers.BooleanField(help_text="Whether exposures are known in lux·s.")
    steps = StepSerializer(many=True)
    readings = ReadingSerializer(many=True)
    instrument_id = serializers.IntegerField(allow_null=True, help_text="Of the latest reading.")
    version = serializers.CharField(help_text="Changes whenever a reading does.")
    warnings = StepWarningSerializer(many=True)


class StoredReadingsSerializer(ReadingsSerializer):
    """The readings as they stand now, and the job that fits their curve."""

    job = JobSerializer(allow_null=True, help_text="Null where no reading changed.")


class CellSerializer(Given):
    """One cell; null empties it."""

    step = StepField(help_text="Number of the step, or “unexposed”.")
    replicate = whole(help_text=f"1 to {MOST_REPLICATES}.")
    density = Number(allow_null=True, help_text="Gross density.")


class CellsSerializer(Given):
    """Cells to store. All others stay as they are."""

    readings = CellSerializer(many=True, max_length=MOST_CELLS)
    instrument_id = identifier(required=False, allow_null=True)
    reason = text(
        required=False,
        help_text=f"Why stored readings change, in at most {LONGEST_REASON} characters; kept with them.",
    )
    version = text(required=False, max_length=16, help_text=VERSION)


class Readings(LabView):
    """The readings of one strip."""

    @operation(access=Members, answer=ReadingsSerializer, refusals=(404,))
    def get(self, request, roll_id: int, strip_number: int):
        """Read the standing readings of a strip."""
        grid = reading_grid(request.user, roll_id, strip_number)
        return self.answer(ReadingsSerializer, readings_document(grid))

    @operation(access=Members, body=CellsSerializer, answer=StoredReadingsSerializer, refusals=(404, 409))
    def put(self, request, roll_id: int, strip_number: int):
        """Store cells of a strip, all or none; the curve is fitted by the answered job.

        A cell that already holds the value from this instrument stays as it is; another value ends the old
        reading, which is kept.
        """
        given = self.given(CellsSerializer)
        cells = [ReadingValue(**cell) for cell in given.pop("readings")]
        job = record_readings(
            actor=request.user,
            strip_id=visible_strip(request.user, roll_id, strip_number).pk,
            values=cells,
            source=Reading.Source.SCRIPT,
            source_name=script_name(request),
            **given,
        )
        return stored_readings(self, roll_id, strip_number, job)


def stored_readings(view: LabView, roll_id: int, strip_number: int, job: Job | None) -> Response:
    """Return the answer with the readings as they stand after they were stored."""
    grid = reading_grid(view.request.user, roll_id, strip_number)
    return view.answer(StoredReadingsSerializer, readings_document(grid) | {"job": job})


def readings_document(grid: ReadingGrid) -> dict:
    """Return a grid cell by cell, as it can be sent back."""
    return {
        "roll_id": grid.roll.pk,
        "strip_number": grid.strip.number,
        "tablet_revision": grid.strip.tablet_revision,
        "is_absolute": grid.is_absolute,
        "steps": [row for row in grid.rows if row.step != UNEXPOSED_STEP],
        "readings": [
            {"step": row.step, "replicate": replicate, "density": density}
            for row in grid.rows
            for replicate, density in enumerate(row.densities, start=1)
            if density is not None
        ],
        "instrument_id": grid.instrument and grid.instrument.pk,
        "version": grid.version,
        "warnings": [{"step": step, "message": told} for step, told in falling_steps(grid).items()],
    }


def script_name(request) -> str:
    """Return the name of the token: what readings name as their source."""
    return request.auth.name if isinstance(request.auth, ApiToken) else ""
