"""Studies of agreement for scripts: set up, read, withdrawn, closed, and what they say."""

from rest_framework import serializers
from rest_framework.response import Response

from curves.api.agreement_documents import (
    AgreementStudySerializer,
    StudyReadingSerializer,
    StudyResultsSerializer,
    study_document,
)
from curves.models import Instrument
from curves.queries.agreement import standing_study_readings, visible_studies, visible_study
from curves.queries.study_results import chosen_reference, study_results
from curves.services.agreement import (
    MOST_STEPS,
    close_study,
    create_study,
    record_study_readings,
    reopen_study,
    withdraw_study_readings,
)
from curves.services.readings import LONGEST_REASON, ReadingValue
from labsite.accounts.api.access import Members
from labsite.accounts.api.documents import operation
from labsite.accounts.api.fields import Asked, Choice, Given, Number, identifier, text, whole
from labsite.accounts.api.views import LabView


class NewStudySerializer(Given):
    """A strip that goes round."""

    name = text(max_length=80)
    strip_name = text(max_length=120, help_text="Which strip goes round.")
    density_type = Choice(Instrument.DensityType)
    geometry = Choice(Instrument.Geometry)
    step_count = whole(required=False, allow_null=True, help_text=f"1 to {MOST_STEPS}.")
    tablet_revision_id = identifier(
        required=False, allow_null=True, help_text="Where the strip is a calibrated tablet; gives its steps."
    )
    planned_replicates = whole(required=False, help_text="Readings of each step; 2 unless given.")
    notes = text(required=False)


class StudyCellSerializer(Given):
    """One cell; null withdraws what is in it."""

    step = whole()
    replicate = whole()
    density = Number(allow_null=True, help_text="As the display shows it.")


class StudyCellsSerializer(Given):
    """Cells of your own with one instrument. All others stay as they are."""

    instrument_id = identifier()
    readings = StudyCellSerializer(many=True, max_length=2000)
    reason = text(required=False, max_length=LONGEST_REASON, help_text="Why stored readings change.")


class WithdrawnSerializer(Given):
    """Whose readings with which instrument do not count; without a step all of them."""

    member_id = identifier()
    instrument_id = identifier()
    step = whole(required=False, allow_null=True)
    reason = text(max_length=LONGEST_REASON)


class ReopenSerializer(Given):
    """Why."""

    reason = text()


class ReferenceSerializer(Asked):
    """What the instruments are held against."""

    reference = serializers.CharField(
        required=False,
        max_length=20,
        help_text="Id of an instrument of the study, `consensus`, or `certified`; by default the first of "
        "the answer's `references`.",
    )


class StudyCountSerializer(serializers.Serializer):
    """How many cells or readings changed."""

    changed = serializers.IntegerField()


class AgreementStudies(LabView):
    """All studies."""

    @operation(access=Members, lists=AgreementStudySerializer)
    def get(self, request):
        """List the studies of agreement, newest first."""
        return self.paged(AgreementStudySerializer, visible_studies(request.user).order_by("-pk"))

    @operation(access=Members, body=NewStudySerializer, answer=AgreementStudySerializer, status=201)
    def post(self, request):
        """Set up a study."""
        study = create_study(actor=request.user, **self.given(NewStudySerializer))
        return self.answer(AgreementStudySerializer, visible_study(request.user, study.pk), status=201)


class OneAgreementStudy(LabView):
    """One study."""

    @operation(access=Members, asks=ReferenceSerializer, answer=StudyResultsSerializer, refusals=(404,))
    def get(self, request, study_id: int):
        """Read what a study says: precision, gauge studies, and a correction for every instrument."""
        results = study_results(visible_study(request.user, study_id))
        key = self.asked(ReferenceSerializer).get("reference", "")
        return Response(study_document(results, chosen_reference(results, key)))


class AgreementReadings(LabView):
    """The readings of a study."""

    @operation(access=Members, lists=StudyReadingSerializer, refusals=(404,))
    def get(self, request, study_id: int):
        """List the readings that count, as read."""
        study = visible_study(request.user, study_id)
        return self.paged(StudyReadingSerializer, standing_study_readings(study))

    @operation(access=Members, body=StudyCellsSerializer, answer=StudyCountSerializer, refusals=(404, 409))
    def post(self, request, study_id: int):
        """Store cells of your own, all or none; what they replace is kept as withdrawn."""
        given = self.given(StudyCellsSerializer)
        cells = [ReadingValue(**cell) for cell in given.pop("readings")]
        changed = record_study_readings(actor=request.user, study_id=study_id, values=cells, **given)
        return Response({"changed": changed})


class WithdrawAgreementReadings(LabView):
    """Withdrawing."""

    @operation(access=Members, body=WithdrawnSerializer, answer=StudyCountSerializer, refusals=(404, 409))
    def post(self, request, study_id: int):
        """Withdraw readings that do not count; your own, or as an admin anybody's."""
        changed = withdraw_study_readings(
            actor=request.user, study_id=study_id, **self.given(WithdrawnSerializer)
        )
        return Response({"changed": changed})


class CloseAgreementStudy(LabView):
    """Closing."""

    @operation(access=Members, answer=AgreementStudySerializer, refusals=(404, 409))
    def post(self, request, study_id: int):
        """Let no more readings in, so that a correction can rest on the study."""
        close_study(actor=request.user, study_id=study_id)
        return self.answer(AgreementStudySerializer, visible_study(request.user, study_id))


class ReopenAgreementStudy(LabView):
    """Opening again."""

    @operation(access=Members, body=ReopenSerializer, answer=AgreementStudySerializer, refusals=(404, 409))
    def post(self, request, study_id: int):
        """Let readings in again."""
        reopen_study(actor=request.user, study_id=study_id, **self.given(ReopenSerializer))
        return self.answer(AgreementStudySerializer, visible_study(request.user, study_id))
