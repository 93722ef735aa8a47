"""What rests on a run or on readings of an instrument, and how it is taken out: for scripts."""

from rest_framework import serializers
from rest_framework.response import Response

from curves.api.labels import RevisionLabelSerializer, RollLabelSerializer, StockLabelSerializer
from curves.queries.instrument_findings import finding_page, findings_of
from curves.queries.instruments import visible_instrument
from curves.queries.run_effects import PooledEffect, RestingOn, run_effects
from curves.services.instrument_findings import (
    find_instrument_wrong,
    lift_finding,
    override_hold,
    return_for_rereading,
)
from curves.services.run_voids import void_run
from labsite.accounts.api.access import Admins, Members
from labsite.accounts.api.documents import operation
from labsite.accounts.api.fields import Given, PersonSerializer, text
from labsite.accounts.api.views import LabView


class RestingResultSerializer(serializers.Serializer):
    """A result of a stock that rests, or rested, on some of the rolls."""

    id = serializers.IntegerField()
    stock = StockLabelSerializer()
    process_revision = RevisionLabelSerializer()
    exposure_revision = RevisionLabelSerializer()
    is_standing = serializers.BooleanField()
    roll_ids = serializers.ListField(child=serializers.IntegerField(), help_text="Of the rolls in question.")
    roll_count = serializers.IntegerField(help_text="Rolls that it rests on in all.")


class RestingPairSerializer(serializers.Serializer):
    """A house reference or a spread estimate under a pair of standards."""

    id = serializers.IntegerField()
    process_revision = RevisionLabelSerializer()
    exposure_revision = RevisionLabelSerializer()


class RestingSerializer(serializers.Serializer):
    """Everything that rests on some rolls."""

    rolls = RollLabelSerializer(many=True)
    analysis_ids = serializers.ListField(child=serializers.IntegerField())
    results = RestingResultSerializer(many=True)
    spread_estimates = RestingPairSerializer(many=True)
    house_references = RestingPairSerializer(many=True)
    repooling = serializers.ListField(child=serializers.CharField())


class VoidingSerializer(serializers.Serializer):
    """A run, whether it is void, and what rests on it."""

    run_id = serializers.IntegerField()
    is_void = serializers.BooleanField()
    void_reason = serializers.CharField()
    resting = RestingSerializer()


class FindingSerializer(serializers.Serializer):
    """Days in which an instrument was found to have read wrongly."""

    id = serializers.IntegerField()
    instrument_id = serializers.IntegerField()
    first_on = serializers.DateField()
    last_on = serializers.DateField()
    reason = serializers.CharField()
    found_by = PersonSerializer()
    found_at = serializers.DateTimeField()
    ended_at = serializers.DateTimeField(allow_null=True, help_text="When it was lifted; null: it stands.")
    ended_reason = serializers.CharField()


class OneFindingSerializer(serializers.Serializer):
    """A finding with what it holds back."""

    finding = FindingSerializer()
    reading_count = serializers.IntegerField(help_text="Readings of those days that still count.")
    run_ids = serializers.ListField(
        child=serializers.IntegerField(), help_text="Runs whose control strips were read then."
    )
    resting = RestingSerializer()


class NewFindingSerializer(Given):
    """Days in which an instrument read wrongly."""

    first_on = serializers.DateField()
    last_on = serializers.DateField()
    reason = text(max_length=300)


class WhySerializer(Given):
    """Why."""

    reason = text()


class HeldRollSerializer(serializers.Serializer):
    """A roll that a finding is about."""

    roll = RollLabelSerializer()
    is_held_back = serializers.BooleanField()
    hold_reason = serializers.CharField()
    hold_override_reason = serializers.CharField()


class RunEffects(LabView):
    """What rests on a run."""

    @operation(access=Members, answer=VoidingSerializer, refusals=(404,))
    def get(self, request, run_id: int):
        """Read what rests on a run: rolls, results, the lab's spread, house references."""
        return _voiding(request.user, run_id)


class VoidRun(LabView):
    """Declaring void."""

    @operation(access=Admins, body=WhySerializer, answer=VoidingSerializer, refusals=(404, 409))
    def post(self, request, run_id: int):
        """Declare a run void; nothing is deleted, and what rested on it is pooled anew."""
        void_run(actor=request.user, run_id=run_id, **self.given(WhySerializer))
        return _voiding(request.user, run_id)


class Findings(LabView):
    """Findings about an instrument."""

    @operation(access=Members, lists=FindingSerializer)
    def get(self, request, instrument_id: int):
        """List the days in which an instrument was found wrong, newest finding first."""
        instrument = visible_instrument(request.user, instrument_id)
        return self.paged(FindingSerializer, findings_of(request.user, instrument))

    @operation(
        access=Admins,
        body=NewFindingSerializer,
        answer=OneFindingSerializer,
        status=201,
        refusals=(404,),
    )
    def post(self, request, instrument_id: int):
        """State that an instrument was wrong in some days; what rests on its readings is held back."""
        finding = find_instrument_wrong(
            actor=request.user, instrument_id=instrument_id, **self.given(NewFindingSerializer)
        )
        return _finding(request.user, finding.pk, status=201)


class OneFinding(LabView):
    """One finding."""

    @operation(access=Members, answer=OneFindingSerializer, refusals=(404,))
    def get(self, request, finding_id: int):
        """Read a finding with what it holds back."""
        return _finding(request.user, finding_id)


class LiftFinding(LabView):
    """Taking back."""

    @operation(access=Admins, body=WhySerializer, answer=OneFindingSerializer, refusals=(404, 409))
    def post(self, request, finding_id: int):
        """Take a finding back; it holds nothing back any more."""
        lift_finding(actor=request.user, finding_id=finding_id, **self.given(WhySerializer))
        return _finding(request.user, finding_id)


class OverrideHold(LabView):
    """Letting in all the same."""

    @operation(access=Admins, body=WhySerializer, answer=HeldRollSerializer, refusals=(404, 409))
    def post(self, request, roll_id: int):
        """Let a roll count although its readings are doubted; an empty reason holds it back again."""
        return _held(override_hold(actor=request.user, roll_id=roll_id, **self.given(WhySerializer)))


class ReadAgain(LabView):
    """Having read again."""

    @operation(access=Admins, answer=HeldRollSerializer, refusals=(404, 409))
    def post(self, request, roll_id: int):
        """Return an accepted roll with doubted readings to its member, to be read again."""
        return _held(return_for_rereading(actor=request.user, roll_id=roll_id).roll)


def _held(roll) -> Response:
    label = RollLabelSerializer(roll).data
    names = ("is_held_back", "hold_reason", "hold_override_reason")
    return Response({"roll": label} | {name: getattr(roll, name) for name in names})


def _voiding(user, run_id: int) -> Response:
    shown = run_effects(user, run_id)
    return Response(
        {
            "run_id": shown.run.pk,
            "is_void": shown.run.is_void,
            "void_reason": shown.run.void_reason,
            "resting": resting_document(shown.resting),
        }
    )


def _finding(user, finding_id: int, *, status: int = 200) -> Response:
    shown = finding_page(user, finding_id)
    document = {
        "finding": FindingSerializer(shown.finding).data,
        "reading_count": shown.reading_count,
        "run_ids": [run.pk for run in shown.runs],
        "resting": resting_document(shown.resting),
    }
    return Response(document, status=status)


def resting_document(resting: RestingOn) -> dict:
    """Return everything that rests on some rolls, as scripts get it."""
    return {
        "rolls": RollLabelSerializer(resting.rolls, many=True).data,
        "analysis_ids": [analysis.pk for analysis in resting.analyses],
        "results": [_result(each) for each in (*resting.standing, *resting.past)],
        "spread_estimates": RestingPairSerializer(resting.spreads, many=True).data,
        "house_references": RestingPairSerializer(resting.references, many=True).data,
        "repooling": [each.sentence for each in resting.repoolings],
    }


def _result(effect: PooledEffect) -> dict:
    pooled = effect.pooled
    return {
        "id": pooled.pk,
        "stock": StockLabelSerializer(pooled.stock).data,
        "process_revision": RevisionLabelSerializer(pooled.process_revision).data,
        "exposure_revision": RevisionLabelSerializer(pooled.exposure_revision).data,
        "is_standing": effect.is_standing,
        "roll_ids": [roll.pk for roll in effect.rolls],
        "roll_count": effect.roll_count,
    }
