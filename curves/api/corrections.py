"""Corrections of instruments for scripts: what would change, into force from a day, out of force."""

from django.utils import timezone
from rest_framework import serializers
from rest_framework.response import Response

from curves.api.run_effects import RestingSerializer, WhySerializer, resting_document
from curves.queries.agreement import visible_study
from curves.queries.instrument_corrections import (
    ListedCorrection,
    correction_effects,
    instrument_corrections,
    visible_correction,
)
from curves.queries.instruments import visible_instrument
from curves.queries.study_results import chosen_reference, study_proposal, study_results
from curves.services.instrument_corrections import correct_by_study, take_out_of_force
from labsite.accounts.api.access import Admins, Members
from labsite.accounts.api.documents import operation
from labsite.accounts.api.fields import Asked, Given, PersonSerializer, identifier, text
from labsite.accounts.api.views import LabView
from labsite.common.errors import InvalidInput


class CorrectionSerializer(serializers.Serializer):
    """One revision of an instrument's correction: corrected density = offset + slope × reading."""

    id = serializers.IntegerField()
    instrument_id = serializers.IntegerField()
    instrument_name = serializers.CharField(help_text="As it was called then.")
    number = serializers.IntegerField()
    state = serializers.CharField()
    applies_from_on = serializers.DateField()
    applies_until_on = serializers.DateField(allow_null=True, help_text="Null: no newer revision ends it.")
    replaced_by_id = serializers.IntegerField(allow_null=True)
    offset = serializers.FloatField(help_text="Density.")
    slope = serializers.FloatField()
    offset_variance = serializers.FloatField()
    shared_covariance = serializers.FloatField()
    slope_variance = serializers.FloatField()
    tested_low = serializers.FloatField(help_text="A reading below it is left out of a fit.")
    tested_high = serializers.FloatField(help_text="A reading above it is left out of a fit.")
    method = serializers.CharField()
    study_id = serializers.IntegerField(allow_null=True)
    basis = serializers.CharField()
    reason = serializers.CharField()
    brought_by = PersonSerializer()
    brought_at = serializers.DateTimeField()
    ended_at = serializers.DateTimeField(allow_null=True)
    ended_reason = serializers.CharField()


class CorrectionEffectsSerializer(serializers.Serializer):
    """What rests on an instrument's readings from a day on."""

    reading_count = serializers.IntegerField()
    beyond_count = serializers.IntegerField(help_text="Readings beyond what was tested.")
    waiting_roll_ids = serializers.ListField(
        child=serializers.IntegerField(), help_text="Rolls whose result does not rest on what stands now."
    )
    resting = RestingSerializer()


class OneCorrectionSerializer(serializers.Serializer):
    """A revision with what follows from it."""

    correction = CorrectionSerializer()
    effects = CorrectionEffectsSerializer()


class NewCorrectionSerializer(Given):
    """A correction that a closed study proposes."""

    study_id = identifier()
    reference = text(max_length=20, help_text="Key out of the study's `references`.")
    applies_from_on = serializers.DateField()
    reason = text(max_length=300)
    seen = text(required=False, max_length=16, help_text="The proposal's `seen`; refused if it changed.")


class PreviewSerializer(Asked):
    """Which study, against what, from which day."""

    study_id = identifier()
    reference = serializers.CharField(required=False, max_length=20)
    applies_from_on = serializers.DateField(required=False, help_text="Today unless given.")


class Corrections(LabView):
    """The revisions of one instrument."""

    @operation(access=Members, lists=CorrectionSerializer, refusals=(404,))
    def get(self, request, instrument_id: int):
        """List the revisions of an instrument's correction, newest first."""
        instrument = visible_instrument(request.user, instrument_id)
        rows = [_document(each) for each in instrument_corrections(request.user, instrument)]
        return self.paged(CorrectionSerializer, rows)

    @operation(
        access=Admins,
        body=NewCorrectionSerializer,
        answer=OneCorrectionSerializer,
        status=201,
        refusals=(404, 409),
    )
    def post(self, request, instrument_id: int):
        """Bring a study's correction into force from a day; results that rest on the readings follow."""
        made = correct_by_study(
            actor=request.user, instrument_id=instrument_id, **self.given(NewCorrectionSerializer)
        )
        return _one(request.user, made.pk, status=201)


class CorrectionPreview(LabView):
    """What would change."""

    @operation(access=Admins, asks=PreviewSerializer, answer=CorrectionEffectsSerializer, refusals=(404,))
    def get(self, request, instrument_id: int):
        """Read which rolls and results a study's correction would change from a day on."""
        asked = self.asked(PreviewSerializer)
        results = study_results(visible_study(request.user, asked["study_id"]))
        reference = chosen_reference(results, asked.get("reference", ""))
        proposal = study_proposal(results, reference, instrument_id)
        if not proposal.correction.is_known:
            why = proposal.correction.offset.note
            raise InvalidInput(f"The study proposes no correction: {why}.", field="reference")
        day = asked.get("applies_from_on") or timezone.localdate()
        effects = correction_effects(request.user, proposal.instrument, day, proposal.correction.tested)
        return Response(_effects(effects))


class OneCorrection(LabView):
    """One revision."""

    @operation(access=Members, answer=OneCorrectionSerializer, refusals=(404,))
    def get(self, request, correction_id: int):
        """Read a revision with what follows from it."""
        return _one(request.user, correction_id)


class EndCorrection(LabView):
    """Taking out of force."""

    @operation(access=Admins, body=WhySerializer, answer=OneCorrectionSerializer, refusals=(404, 409))
    def post(self, request, correction_id: int):
        """Take a revision out of force; its readings fall back to the one before, or to as read."""
        take_out_of_force(actor=request.user, correction_id=correction_id, **self.given(WhySerializer))
        return _one(request.user, correction_id)


def _document(listed: ListedCorrection) -> dict:
    made = listed.correction
    names = [name for name in CorrectionSerializer().fields if hasattr(made, name)]
    return {name: getattr(made, name) for name in names} | {
        "state": listed.state,
        "applies_until_on": listed.applies_until_on,
        "replaced_by_id": listed.replaced_by.pk if listed.replaced_by else None,
    }


def _effects(effects) -> dict:
    return {
        "reading_count": effects.reading_count,
        "beyond_count": effects.beyond_count,
        "waiting_roll_ids": [roll.pk for roll in effects.waiting],
        "resting": resting_document(effects.resting),
    }


def _one(user, correction_id: int, *, status: int = 200) -> Response:
    listed = visible_correction(user, correction_id)
    made = listed.correction
    effects = correction_effects(
        user, made.instrument, made.applies_from_on, (made.tested_low, made.tested_high)
    )
    document = {"correction": CorrectionSerializer(_document(listed)).data, "effects": _effects(effects)}
    return Response(document, status=status)
