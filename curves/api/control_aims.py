"""Aims of control strips for scripts: drafted in three ways, put in force, discarded."""

from rest_framework import serializers

from curves.api.control_strips import StripBatchSerializer
from curves.api.labels import RevisionLabelSerializer
from curves.models import AimsBasis, RevisionState
from curves.queries.control_strips import aims_page, visible_aims
from curves.sensitometry.controlling.control_strips import QUANTITIES
from curves.sensitometry.controlling.rule_definitions import RULE_SETS
from curves.services.control_aims import (
    carry_over_aims,
    discard_aims,
    draft_aims_from_strips,
    draft_stated_aims,
    put_aims_in_force,
)
from labsite.accounts.api.access import Admins, Members
from labsite.accounts.api.documents import operation
from labsite.accounts.api.fields import Choice, Given, Number, identifier, text, whole
from labsite.accounts.api.views import LabView

LIMITS = "Distances from the aim, D."


class ControlAimsSerializer(serializers.Serializer):
    """Aims and limits of one batch of strips under a process revision."""

    id = serializers.IntegerField()
    number = serializers.IntegerField()
    state = Choice(RevisionState)
    process_revision = RevisionLabelSerializer()
    strip_batch = StripBatchSerializer()
    basis = Choice(AimsBasis)
    rules = serializers.ChoiceField(list(RULE_SETS))
    least_strips = serializers.IntegerField()
    aims = serializers.DictField(help_text="Aim, spread and limits by quantity, D.")
    offset = serializers.DictField(allow_null=True, help_text="New batch of strips less old one, D.")
    change_note = serializers.CharField()
    created_at = serializers.DateTimeField()
    in_force_at = serializers.DateTimeField(allow_null=True)
    superseded_at = serializers.DateTimeField(allow_null=True)


class _DraftSerializer(Given):
    """The standard and batch that aims are for."""

    process_revision_id = identifier()
    batch_id = identifier()
    rules = serializers.ChoiceField(list(RULE_SETS), required=False)


class AimsFromStripsSerializer(_DraftSerializer):
    """Aims from the latest runs that are not out of control."""

    least = whole(required=False, help_text="Runs; 10 unless given.")
    left_out = serializers.ListField(
        child=identifier(), required=False, max_length=400, help_text="Runs that do not count."
    )
    change_note = text(required=False)


class QuantityAimSerializer(Given):
    """One quantity's aim with its limits."""

    quantity = serializers.ChoiceField(list(QUANTITIES))
    aim = Number(help_text="Gross density, or difference of two; D.")
    warning = Number(help_text=LIMITS)
    action = Number(help_text=LIMITS)


class StatedAimsSerializer(_DraftSerializer):
    """Aims by hand."""

    aims = QuantityAimSerializer(many=True)
    change_note = text()


class CarryOverSerializer(Given):
    """The new batch of strips."""

    batch_id = identifier()
    change_note = text(required=False)


class ListOfAims(LabView):
    """All aims."""

    @operation(access=Members, lists=ControlAimsSerializer)
    def get(self, request):
        """List the aims of control strips."""
        return self.paged(ControlAimsSerializer, visible_aims(request.user))


class AimsFromStrips(LabView):
    """Drafting from strips."""

    @operation(access=Admins, body=AimsFromStripsSerializer, answer=ControlAimsSerializer, status=201)
    def post(self, request):
        """Draft aims from the latest runs; you state that these were in control."""
        aims = draft_aims_from_strips(actor=request.user, **self.given(AimsFromStripsSerializer))
        return self.answer(ControlAimsSerializer, aims, status=201)


class StatedAims(LabView):
    """Drafting by hand."""

    @operation(access=Admins, body=StatedAimsSerializer, answer=ControlAimsSerializer, status=201)
    def post(self, request):
        """Draft aims and limits by hand, with the reason."""
        given = self.given(StatedAimsSerializer)
        stated = given.pop("aims")
        aims = draft_stated_aims(
            actor=request.user,
            centres={each["quantity"]: each["aim"] for each in stated},
            limits={each["quantity"]: (each["warning"], each["action"]) for each in stated},
            **given,
        )
        return self.answer(ControlAimsSerializer, aims, status=201)


class OneSetOfAims(LabView):
    """One set of aims."""

    @operation(access=Members, answer=ControlAimsSerializer, refusals=(404,))
    def get(self, request, aims_id: int):
        """Read one set of aims."""
        return self.answer(ControlAimsSerializer, aims_page(request.user, aims_id).aims)

    @operation(access=Admins, status=204, refusals=(404, 409))
    def delete(self, request, aims_id: int):
        """Discard a draft."""
        discard_aims(actor=request.user, aims_id=aims_id)
        return self.nothing()


class EnforceAims(LabView):
    """Putting in force."""

    @operation(access=Admins, answer=ControlAimsSerializer, refusals=(404, 409))
    def post(self, request, aims_id: int):
        """Put a draft in force; runs that were unproven for want of aims are judged by it."""
        put_aims_in_force(actor=request.user, aims_id=aims_id)
        return self.answer(ControlAimsSerializer, aims_page(request.user, aims_id).aims)


class CarryOverAims(LabView):
    """Carrying over."""

    @operation(
        access=Admins,
        body=CarryOverSerializer,
        answer=ControlAimsSerializer,
        status=201,
        refusals=(404, 409),
    )
    def post(self, request, aims_id: int):
        """Draft aims for a new batch of strips from runs that had strips of both."""
        aims = carry_over_aims(actor=request.user, aims_id=aims_id, **self.given(CarryOverSerializer))
        return self.answer(ControlAimsSerializer, aims, status=201)
