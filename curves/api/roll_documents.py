"""What a roll says of itself in a list and by itself, with whose turn it is and what may be done."""

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from curves.api.engine import MeasureSerializer
from curves.api.labels import (
    BatchLabelSerializer,
    CalibrationLabelSerializer,
    ReadersSerializer,
    RevisionLabelSerializer,
    RunLabelSerializer,
    StockLabelSerializer,
)
from curves.models import UNEXPOSED_STEP, RollState
from labsite.accounts.api.fields import Choice, PersonSerializer
from labsite.jobs.api import JobSerializer

UNEXPOSED = "unexposed"
MOST_STEPS = 999


@extend_schema_field(
    {
        "oneOf": [
            {"type": "integer", "minimum": 1, "maximum": MOST_STEPS},
            {"type": "string", "enum": [UNEXPOSED]},
        ]
    }
)
class StepField(serializers.JSONField):
    """A step of the tablet by its number, or the word for the unexposed area."""

    def to_representation(self, value: int) -> int | str:
        """Return the step as scripts name it."""
        return UNEXPOSED if value == UNEXPOSED_STEP else value

    def to_internal_value(self, data) -> int:
        """Return the step as it is kept."""
        if data == UNEXPOSED:
            return UNEXPOSED_STEP
        if isinstance(data, bool) or not isinstance(data, int) or not 1 <= data <= MOST_STEPS:
            raise serializers.ValidationError(
                f"Give the number of a step, from 1, or “{UNEXPOSED}” for the unexposed area."
            )
        return data


class RollSerializer(ReadersSerializer):
    """A test roll; visitors get neither its member nor its notes."""

    members_only = ("member", "notes")

    id = serializers.IntegerField()
    code = serializers.CharField(help_text="The name by which people call it.")
    state = Choice(RollState)
    stock = StockLabelSerializer(source="batch.stock")
    batch = BatchLabelSerializer()
    member = PersonSerializer(allow_null=True, help_text="Null for visitors.")
    credit = serializers.CharField(source="member.credit_line", help_text="How its member wants to be named.")
    process_revision = RevisionLabelSerializer()
    exposure_revision = RevisionLabelSerializer()
    run = RunLabelSerializer(allow_null=True)
    exposed_on = serializers.DateField(allow_null=True)
    notes = serializers.CharField(allow_null=True, help_text="Null for visitors.")
    control_override_reason = serializers.CharField(
        help_text="Why it counts although its run was out of control."
    )
    hold_reason = serializers.CharField(help_text="What was found wrong with its readings.")
    hold_override_reason = serializers.CharField(help_text="Why it counts although that was found.")
    is_held_back = serializers.BooleanField(help_text="Whether either keeps it out of comparisons.")
    analysis_id = serializers.IntegerField(
        source="current_analysis_id", allow_null=True, help_text="The standing analysis."
    )
    created_at = serializers.DateTimeField()
    updated_at = serializers.DateTimeField()
    submitted_at = serializers.DateTimeField(allow_null=True)
    accepted_at = serializers.DateTimeField(allow_null=True)


class ListedRollSerializer(RollSerializer):
    """A test roll with the measures of its standing analysis."""

    measures = serializers.DictField(
        source="current_analysis.measures",
        child=MeasureSerializer(),
        default=None,
        allow_null=True,
        help_text="By name; null before its first curve.",
    )


class StripSerializer(serializers.Serializer):
    """One exposure of the tablet on the roll."""

    number = serializers.IntegerField()
    tablet_revision = CalibrationLabelSerializer()


class StripLineSerializer(serializers.Serializer):
    """A strip with how much of it is read."""

    number = serializers.IntegerField(source="strip.number")
    tablet_revision = CalibrationLabelSerializer(source="strip.tablet_revision")
    step_reading_count = serializers.IntegerField(source="step_readings")
    unexposed_reading_count = serializers.IntegerField(source="unexposed_readings")


class NextStepSerializer(serializers.Serializer):
    """The one thing to do next."""

    code = serializers.CharField(help_text="Such as record_run, enter_readings, submit, review, decided.")
    is_mine = serializers.BooleanField(help_text="Whether you are to do it.")


class RollActionsSerializer(serializers.Serializer):
    """What you may do with the roll now."""

    can_edit = serializers.BooleanField()
    can_submit = serializers.BooleanField()
    can_recall = serializers.BooleanField()
    can_refit = serializers.BooleanField()
    can_review = serializers.BooleanField()
    review_hindrance = serializers.CharField(help_text="Why you, an admin, may not decide on it.")
    can_withdraw = serializers.BooleanField()
    can_void = serializers.BooleanField()
    can_override = serializers.BooleanField()
    can_remark = serializers.BooleanField()


class ReviewSerializer(serializers.Serializer):
    """One decision on a roll."""

    decision = Choice(RollState)
    reasons = serializers.CharField()
    reviewer = PersonSerializer()
    analysis_id = serializers.IntegerField(allow_null=True)
    created_at = serializers.DateTimeField()


class RemarkSerializer(serializers.Serializer):
    """A note for the whole lab."""

    id = serializers.IntegerField()
    author = PersonSerializer()
    text = serializers.CharField()
    created_at = serializers.DateTimeField()


class CorrectionOfReadingSerializer(serializers.Serializer):
    """A reading that no longer stands; null in its place: taken out."""

    strip_number = serializers.IntegerField(source="strip.number")
    step = StepField()
    replicate = serializers.IntegerField()
    density = serializers.FloatField(help_text="Gross density.")
    replaced_by = serializers.FloatField(
        source="superseded_by.density", default=None, allow_null=True, help_text="Gross density."
    )
    reason = serializers.CharField(source="ended_reason")
    ended_at = serializers.DateTimeField()


class OneRollSerializer(serializers.Serializer):
    """A roll with its strips, its history and what you may do with it."""

    roll = RollSerializer()
    strips = StripLineSerializer(many=True)
    is_analysis_current = serializers.BooleanField(
        source="is_result_current",
        help_text="Whether the standing analysis is of just the readings that stand.",
    )
    job = JobSerializer(allow_null=True, help_text="The newest fit; null for visitors.")
    next_step = NextStepSerializer()
    actions = RollActionsSerializer()
    reviews = ReviewSerializer(many=True, help_text="Newest first; empty for visitors.")
    remarks = RemarkSerializer(many=True, help_text="Empty for visitors.")
    corrections = CorrectionOfReadingSerializer(many=True, help_text="The latest; empty for visitors.")
