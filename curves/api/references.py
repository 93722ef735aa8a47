"""The house reference of each pair of standards."""

from rest_framework import serializers

from curves.api.labels import ReadersSerializer, RevisionLabelSerializer, StockLabelSerializer
from curves.queries.references import reference_page, reference_pairs
from curves.services.references import appoint_reference
from labsite.accounts.api.access import Admins, Readers
from labsite.accounts.api.documents import operation
from labsite.accounts.api.fields import Given, PersonSerializer, identifier, text
from labsite.accounts.api.views import LabView


class ReferenceSerializer(ReadersSerializer):
    """A stock that all others are or were held against."""

    members_only = ("appointed_by", "reason")

    id = serializers.IntegerField()
    stock = StockLabelSerializer()
    appointed_at = serializers.DateTimeField()
    ended_at = serializers.DateTimeField(allow_null=True, help_text="Null while it stands.")
    appointed_by = PersonSerializer(allow_null=True, help_text="Null for visitors.")
    reason = serializers.CharField(allow_null=True, help_text="Null for visitors.")


class ReferencePairSerializer(serializers.Serializer):
    """One pair of standards that has results or a reference."""

    process_revision = RevisionLabelSerializer(source="process")
    exposure_revision = RevisionLabelSerializer(source="exposure")
    is_in_force = serializers.BooleanField(help_text="Whether new rolls can be made under the pair.")
    stock_count = serializers.IntegerField(help_text="Stocks with a result.")
    fault = serializers.CharField(help_text="What keeps stocks from being compared; empty: nothing.")
    reference = ReferenceSerializer(source="standing", allow_null=True)


class CandidateSerializer(serializers.Serializer):
    """A stock that could be appointed."""

    stock = StockLabelSerializer()
    roll_count = serializers.IntegerField(
        source="pooled.roll_count", help_text="Rolls that the numbers rest on."
    )
    left_out_count = serializers.IntegerField(
        source="pooled.left_out_count", help_text="Accepted rolls without a speed point."
    )


class OneReferencePairSerializer(serializers.Serializer):
    """One pair of standards with every reference that it had and, for admins, could have."""

    pair = ReferencePairSerializer()
    history = ReferenceSerializer(many=True, help_text="Newest first.")
    candidates = CandidateSerializer(many=True, help_text="Empty unless you are an admin.")


class AppointmentSerializer(Given):
    """Which stock shall be the reference, and why."""

    stock_id = identifier()
    process_revision_id = identifier()
    exposure_revision_id = identifier()
    reason = text(required=False)


class References(LabView):
    """The references that stand."""

    @operation(access=Readers, lists=ReferencePairSerializer)
    def get(self, request):
        """List the pairs of standards with their house references."""
        return self.paged(ReferencePairSerializer, reference_pairs(request.user))

    @operation(
        access=Admins, body=AppointmentSerializer, answer=ReferenceSerializer, status=201, refusals=(409,)
    )
    def post(self, request):
        """Appoint the house reference of a pair of standards; the one before it is kept as history."""
        appointed = appoint_reference(actor=request.user, **self.given(AppointmentSerializer))
        return self.answer(ReferenceSerializer, appointed, status=201)


class OneReferencePair(LabView):
    """The references of one pair."""

    @operation(access=Readers, answer=OneReferencePairSerializer, refusals=(404,))
    def get(self, request, process_revision_id: int, exposure_revision_id: int):
        """Read one pair of standards with all its references."""
        shown = reference_page(request.user, process_revision_id, exposure_revision_id)
        return self.answer(OneReferencePairSerializer, shown)
