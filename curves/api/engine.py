"""The engine's dictionaries as the document describes them; they are handed out as they were stored."""

from rest_framework import serializers

from curves.models.results import EngineResult
from curves.sensitometry import VERDICTS, Comparison, Measure

LOG = "log₁₀ of the exposure: of lux·s where `exposure` is absolute, else counted from the clear area."


def numbers(help_text: str = "") -> serializers.ListField:
    """Return a field for a row of numbers."""
    return serializers.ListField(child=serializers.FloatField(), help_text=help_text)


class MeasureSerializer(serializers.Serializer):
    """A number with its 95 % interval and unit, or the code of why there is none.

    A value without `high` is an "at least", one without `low` an "at most"; `note` then says why.
    """

    value = serializers.FloatField(allow_null=True)
    low = serializers.FloatField(allow_null=True)
    high = serializers.FloatField(allow_null=True)
    unit = serializers.CharField(help_text="Unit of the three numbers; empty for a plain ratio.")
    reason = serializers.CharField(allow_null=True, help_text="Code out of `reasons` of /measures/.")
    note = serializers.CharField()


class FlagSerializer(serializers.Serializer):
    """What a person should look at."""

    code = serializers.CharField(help_text="Code out of `flags` of /measures/.")
    text = serializers.CharField()
    step = serializers.IntegerField(allow_null=True)
    log_exposure = serializers.FloatField(allow_null=True)


class CurveSerializer(serializers.Serializer):
    """The characteristic curve over the measured range only; its rows of numbers are equally long."""

    log_exposure = numbers(LOG)
    density = numbers("Gross density.")
    low = numbers("Lower end of its 95 % band.")
    high = numbers("Upper end of its 95 % band.")
    gradient = numbers("Slope, density per log₁₀.")
    modes = serializers.ListField(
        child=numbers(), help_text="The curve's error is z · modes, z standard normal; density."
    )
    base = serializers.FloatField(allow_null=True, help_text="Base plus fog, density; null: not read.")
    base_modes = numbers("Error of the base by the same z, density.")


class PointsSerializer(serializers.Serializer):
    """The averaged steps that the curve was fitted to, a row each."""

    log_exposure = numbers(LOG)
    density = numbers("Mean gross density.")
    residual = numbers("Reading less curve, density.")
    count = serializers.ListField(child=serializers.IntegerField(), help_text="Readings averaged.")
    step = serializers.ListField(child=serializers.IntegerField(), help_text="Step of the tablet.")
    is_flagged = serializers.ListField(child=serializers.BooleanField(), help_text="Left out of the fit.")


class EngineSerializer(serializers.Serializer):
    """What the engine made of readings, with what is needed to make it again."""

    id = serializers.IntegerField()
    input_digest = serializers.CharField(help_text="SHA-256 of the canonical inputs.")
    computed_at = serializers.DateTimeField()
    engine_version = serializers.CharField()
    exposure = serializers.ChoiceField(["absolute", "relative"])
    box_speed = serializers.FloatField(allow_null=True, help_text="ISO arithmetic.")
    noise_sd = serializers.FloatField(
        allow_null=True, help_text="Standard deviation of one reading, density."
    )
    roll_count = serializers.IntegerField()
    between_roll = serializers.DictField(
        child=serializers.FloatField(), help_text="Measure → standard deviation from roll to roll."
    )
    tablet_share = serializers.FloatField(
        required=False,
        help_text="Share of the error variance common to all rolls of the same tablet; not in old results.",
    )
    corrected_by = serializers.ListField(
        required=False,
        child=serializers.CharField(),
        help_text="Revisions of instruments' corrections that entered; missing where readings are as read.",
    )
    correction_share = serializers.FloatField(
        required=False, help_text="Share of the net curve's error variance that the corrections make."
    )
    base_correction_share = serializers.FloatField(
        required=False, help_text="Share of the base's error variance that the corrections make."
    )
    measures = serializers.DictField(child=MeasureSerializer(), help_text="By name; see /measures/.")
    curve = CurveSerializer()
    points = PointsSerializer()
    flags = FlagSerializer(many=True)
    constructions = serializers.DictField(
        child=serializers.DictField(), help_text="Numbers for drawing each measure."
    )


class DifferenceMeasureSerializer(MeasureSerializer):
    """A difference from the reference, with what may be said of it."""

    verdict = serializers.ChoiceField(VERDICTS)
    is_beyond_reading = serializers.BooleanField(
        allow_null=True, help_text="Whether it is beyond reading error alone; null: not known."
    )


class SentenceSerializer(serializers.Serializer):
    """A difference in plain words."""

    text = serializers.CharField()
    measure_names = serializers.ListField(child=serializers.CharField(), help_text="What it rests on.")


class DifferenceSerializer(serializers.Serializer):
    """Density less that of the reference, at equal exposure and aligned at the speed points."""

    log_exposure = numbers(LOG)
    difference = numbers("Gross density at equal exposure.")
    low = numbers("Lower end of its 95 % band.")
    high = numbers("Upper end of its 95 % band.")
    aligned_log_exposure = numbers("Distance from the speed point, log₁₀.")
    aligned_difference = numbers("Net density, aligned at the speed points.")
    aligned_low = numbers("Lower end of its 95 % band.")
    aligned_high = numbers("Upper end of its 95 % band.")


class AgainstReferenceSerializer(serializers.Serializer):
    """How a result differs from the house reference of its standards."""

    measures = serializers.DictField(child=DifferenceMeasureSerializer(), help_text="By name.")
    sentences = SentenceSerializer(many=True)
    difference = DifferenceSerializer(allow_null=True)


def engine_document(result: EngineResult) -> dict:
    """Return a stored result as it was made, with its id, digest and time."""
    return {
        "id": result.pk,
        "input_digest": result.input_digest,
        "computed_at": result.created_at.isoformat(),
        **result.as_dict(),
    }


def difference_document(comparison: Comparison, *, with_curve: bool = True) -> dict:
    """Return a comparison, each measure together with its verdict."""
    made = comparison.to_dict()
    return {
        "measures": {
            name: {
                **measure,
                "verdict": made["verdicts"][name],
                "is_beyond_reading": made["is_beyond_reading"][name],
            }
            for name, measure in made["measures"].items()
        },
        "sentences": made["sentences"],
        "difference": made["difference"] if with_curve else None,
    }


def measures_document(measures: dict[str, Measure]) -> dict:
    """Return measures by name."""
    return {name: measure.to_dict() for name, measure in measures.items()}
