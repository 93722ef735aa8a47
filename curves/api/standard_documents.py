"""What process standards, exposure standards and step tablets say and what can be said of them."""

from rest_framework import serializers

from curves.api.labels import ReadersSerializer
from curves.models import RevisionState
from curves.models.exposures import ExposureMethod
from curves.models.processes import TimeRule
from labsite.accounts.api.fields import (
    Asked,
    Choice,
    Given,
    Number,
    PersonSerializer,
    identifier,
    text,
    whole,
)

SEEN = "The `fingerprint` of the draft that you looked at; refused if somebody changed it since."


class RevisionsAskedSerializer(Asked):
    """Which revisions are wanted."""

    state = Choice(RevisionState, required=False)
    standard_id = identifier(required=False)


class StandardsAskedSerializer(Asked):
    """Which standards are wanted."""

    q = text(required=False, max_length=80, help_text="Part of the name.")


class ChangeNoteSerializer(Given):
    """The reason for a new revision."""

    change_note = text(help_text="What is going to change, and why.")


class SeenSerializer(Given):
    """What the decision rests on."""

    seen = text(required=False, max_length=16, help_text=SEEN)


class RevisionSerializer(ReadersSerializer):
    """Number, state and history of a revision; what it fixes stands beside it."""

    members_only = ("created_by",)

    id = serializers.IntegerField()
    number = serializers.IntegerField()
    state = Choice(RevisionState)
    label = serializers.CharField(source="__str__")
    change_note = serializers.CharField()
    created_by = PersonSerializer(allow_null=True, help_text="Null for visitors.")
    created_at = serializers.DateTimeField()
    in_force_at = serializers.DateTimeField(allow_null=True)
    superseded_at = serializers.DateTimeField(allow_null=True)


class FingerprintSerializer(serializers.Serializer):
    """What a revision says now, in one word."""

    fingerprint = serializers.CharField(help_text="Hand it back as `seen` when you change or enforce.")


class StandardSerializer(serializers.Serializer):
    """A standard; what it fixes is in its revisions."""

    id = serializers.IntegerField()
    name = serializers.CharField()
    in_force_number = serializers.IntegerField(allow_null=True, help_text="Revision in force, by number.")
    in_force_at = serializers.DateTimeField(allow_null=True)
    draft_number = serializers.IntegerField(allow_null=True, help_text="Null for visitors.")
    created_at = serializers.DateTimeField()


# --- Process standards

PROMPTED = "Seconds; what the run timer prompts."
REMINDED = "When a batch of developer is due to be mixed anew; null: nobody is reminded."


class ProcessValuesSerializer(serializers.Serializer):
    """What a revision of a process standard fixes."""

    developer = serializers.CharField()
    dilution = serializers.CharField()
    temperature_c = serializers.FloatField(help_text="°C.")
    temperature_tolerance_c = serializers.FloatField(help_text="± °C.")
    time_rule = Choice(TimeRule)
    development_time_s = serializers.IntegerField(allow_null=True, help_text="Seconds; for a fixed time.")
    time_tolerance_s = serializers.IntegerField(help_text="± seconds.")
    aim_contrast = serializers.FloatField(
        allow_null=True, help_text="Average gradient, density per log₁₀; for an aim contrast."
    )
    agitation = serializers.CharField()
    stop_bath = serializers.CharField()
    fixer = serializers.CharField()
    wash = serializers.CharField()
    cautions = serializers.CharField()
    agitation_initial_s = serializers.IntegerField(allow_null=True, help_text=PROMPTED)
    agitation_every_s = serializers.IntegerField(allow_null=True, help_text=PROMPTED)
    agitation_for_s = serializers.IntegerField(allow_null=True, help_text=PROMPTED)
    stop_s = serializers.IntegerField(allow_null=True, help_text="Seconds in the stop bath.")
    fix_s = serializers.IntegerField(allow_null=True, help_text="Seconds in the fixer.")
    wash_s = serializers.IntegerField(allow_null=True, help_text="Seconds of washing.")
    developer_keeps_days = serializers.IntegerField(allow_null=True, help_text=REMINDED)
    developer_films = serializers.IntegerField(allow_null=True, help_text=REMINDED)


class ProcessRevisionSerializer(ProcessValuesSerializer, RevisionSerializer):
    """A revision of a process standard."""

    standard_id = serializers.IntegerField()


class OneProcessRevisionSerializer(FingerprintSerializer, ProcessRevisionSerializer):
    """A revision of a process standard, with its fingerprint."""


class ProcessStandardSerializer(StandardSerializer):
    """A process standard."""

    purpose = serializers.CharField()


class OneProcessStandardSerializer(ProcessStandardSerializer):
    """A process standard with its revisions, newest first."""

    revisions = ProcessRevisionSerializer(many=True)


class ProcessChangesSerializer(Given):
    """What a draft shall say; what is not given stays."""

    developer = text(required=False, max_length=120)
    dilution = text(required=False, max_length=60)
    temperature_c = Number(required=False, help_text="°C.")
    temperature_tolerance_c = Number(required=False, help_text="± °C.")
    time_rule = Choice(TimeRule, required=False)
    development_time_s = whole(required=False, allow_null=True, help_text="Seconds; for a fixed time.")
    time_tolerance_s = whole(required=False, help_text="± seconds.")
    aim_contrast = Number(
        required=False,
        allow_null=True,
        help_text="Average gradient, density per log₁₀; for an aim contrast.",
    )
    agitation = text(required=False, max_length=200)
    stop_bath = text(required=False, max_length=120)
    fixer = text(required=False, max_length=120)
    wash = text(required=False, max_length=120)
    cautions = text(required=False)
    agitation_initial_s = whole(required=False, allow_null=True, help_text=PROMPTED)
    agitation_every_s = whole(required=False, allow_null=True, help_text=PROMPTED)
    agitation_for_s = whole(required=False, allow_null=True, help_text=PROMPTED)
    stop_s = whole(required=False, allow_null=True, help_text="Seconds in the stop bath.")
    fix_s = whole(required=False, allow_null=True, help_text="Seconds in the fixer.")
    wash_s = whole(required=False, allow_null=True, help_text="Seconds of washing.")
    developer_keeps_days = whole(required=False, allow_null=True, help_text=REMINDED)
    developer_films = whole(required=False, allow_null=True, help_text=REMINDED)


class ProcessDraftChangesSerializer(ProcessChangesSerializer):
    """What a draft shall say; what is not given stays."""

    change_note = text(required=False)
    seen = text(required=False, max_length=16, help_text=SEEN)


class NewProcessStandardSerializer(ProcessChangesSerializer):
    """A new process standard and its first draft."""

    name = text(max_length=80)
    purpose = text(required=False)
    developer = text(max_length=120)
    temperature_c = Number(help_text="°C.")
    temperature_tolerance_c = Number(help_text="± °C.")
    agitation = text(max_length=200)


class StandardNameSerializer(Given):
    """What a process or exposure standard is called from now on; what is not given stays."""

    name = text(required=False, max_length=80)
    purpose = text(required=False)


# --- Exposure standards


class ExposureValuesSerializer(serializers.Serializer):
    """What a revision of an exposure standard fixes."""

    method = Choice(ExposureMethod)
    tablet_id = serializers.IntegerField(help_text="The step tablet.")
    target = serializers.CharField()
    light = serializers.CharField()
    colour_temperature_k = serializers.IntegerField(help_text="Kelvin.")
    exposure_time_s = serializers.FloatField(help_text="Seconds.")
    log_exposure_clear = serializers.FloatField(
        allow_null=True, help_text="log₁₀ lux·s where the tablet is clear; null: relative exposure only."
    )
    log_exposure_sd = serializers.FloatField(help_text="Its standard uncertainty, log₁₀.")
    bracket_spacing_stops = serializers.FloatField(help_text="Stops between the frames of a bracket.")


class ExposureRevisionSerializer(ExposureValuesSerializer, RevisionSerializer):
    """A revision of an exposure standard."""

    standard_id = serializers.IntegerField()


class OneExposureRevisionSerializer(FingerprintSerializer, ExposureRevisionSerializer):
    """A revision of an exposure standard, with its fingerprint."""


class ExposureStandardSerializer(StandardSerializer):
    """An exposure standard."""

    purpose = serializers.CharField()


class OneExposureStandardSerializer(ExposureStandardSerializer):
    """An exposure standard with its revisions, newest first."""

    revisions = ExposureRevisionSerializer(many=True)


class ExposureChangesSerializer(Given):
    """What a draft shall say; what is not given stays."""

    method = Choice(ExposureMethod, required=False)
    tablet_id = identifier(required=False, help_text="The step tablet.")
    target = text(required=False, max_length=200)
    light = text(required=False, max_length=120, help_text="Such as lamp with daylight filter.")
    colour_temperature_k = whole(required=False, help_text="Kelvin.")
    exposure_time_s = Number(required=False, help_text="Seconds.")
    log_exposure_clear = Number(
        required=False,
        allow_null=True,
        help_text="log₁₀ lux·s where the tablet is clear; null: relative exposure only.",
    )
    log_exposure_sd = Number(required=False, help_text="Its standard uncertainty, log₁₀.")
    bracket_spacing_stops = Number(required=False, help_text="Stops between the frames of a bracket.")


class ExposureDraftChangesSerializer(ExposureChangesSerializer):
    """What a draft shall say; what is not given stays."""

    change_note = text(required=False)
    seen = text(required=False, max_length=16, help_text=SEEN)


class NewExposureStandardSerializer(ExposureChangesSerializer):
    """A new exposure standard and its first draft."""

    name = text(max_length=80)
    purpose = text(required=False)
    tablet_id = identifier(help_text="The step tablet.")
    light = text(max_length=120, help_text="Such as lamp with daylight filter.")
    colour_temperature_k = whole(help_text="Kelvin.")
    exposure_time_s = Number(help_text="Seconds.")
