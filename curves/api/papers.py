"""Printing papers and their curves for scripts: what is sent and answered."""

from rest_framework import serializers

from curves.api.engine import MeasureSerializer, measures_document
from curves.api.standard_documents import SEEN, FingerprintSerializer, RevisionSerializer, StandardSerializer
from curves.api.standard_sides import StandardSide
from curves.queries.papers import PAPER_CATALOGUE, paper_measures
from curves.services.papers import MOST_POINTS, PAPERS
from labsite.accounts.api.fields import Given, Number, text

POINTS = "Pairs of log exposure (log₁₀) and density, in the order of exposure."
ZERO = "log₁₀ lux·s at log exposure 0; null: relative only."
SD = "Standard uncertainty of one density of the curve."


def _points(**options) -> serializers.ListField:
    pair = serializers.ListField(child=Number(), min_length=2, max_length=2)
    return serializers.ListField(child=pair, max_length=MOST_POINTS, help_text=POINTS, **options)


class PointsField(serializers.ListField):
    """The points out of their rows, in the order of exposure."""

    child = serializers.ListField(child=serializers.FloatField())

    def to_representation(self, data) -> list[list[float]]:
        """Return the pairs."""
        points = sorted(data.all(), key=lambda point: point.number)
        return [[point.log_exposure, point.density] for point in points]


class PaperCurveSerializer(RevisionSerializer):
    """A measured curve of a printing paper."""

    paper_id = serializers.IntegerField()
    grade = serializers.CharField()
    developer = serializers.CharField()
    measured_on = serializers.DateField()
    source = serializers.CharField()
    density_sd = serializers.FloatField(help_text=SD)
    base_plus_fog = serializers.FloatField(allow_null=True, help_text="Unexposed, processed paper, density.")
    log_exposure_zero = serializers.FloatField(allow_null=True, help_text=ZERO)
    log_exposure_sd = serializers.FloatField()
    points = PointsField(help_text=POINTS)


class PaperMeasuresField(serializers.DictField):
    """What the engine makes of a paper's curve, by name."""

    child = MeasureSerializer()

    def get_attribute(self, instance):
        """Return the measures of the curve itself."""
        return paper_measures(instance)

    def to_representation(self, value) -> dict:
        """Return them as documents."""
        return measures_document(value)


class OnePaperCurveSerializer(FingerprintSerializer, PaperCurveSerializer):
    """A measured curve of a printing paper, with its measures and its fingerprint."""

    measures = PaperMeasuresField(help_text="Range, speed, white and black; see /measures/.")


class PaperSerializer(StandardSerializer):
    """A printing paper."""

    notes = serializers.CharField()


class OnePaperSerializer(PaperSerializer):
    """A printing paper with its curves, newest first."""

    revisions = PaperCurveSerializer(many=True)


class PaperCurveChangesSerializer(Given):
    """What a draft shall say; what is not given stays."""

    grade = text(required=False, max_length=80)
    developer = text(required=False, max_length=120)
    measured_on = serializers.DateField(required=False)
    source = text(required=False, max_length=160)
    density_sd = Number(required=False, help_text=SD)
    base_plus_fog = Number(required=False, allow_null=True, help_text="Density; null: not read.")
    log_exposure_zero = Number(required=False, allow_null=True, help_text=ZERO)
    log_exposure_sd = Number(required=False)
    points = _points(required=False)
    change_note = text(required=False)
    seen = text(required=False, max_length=16, help_text=SEEN)


class NewPaperSerializer(Given):
    """A new printing paper and the draft of its first curve."""

    name = text(max_length=80)
    notes = text(required=False)
    grade = text(max_length=80)
    developer = text(max_length=120)
    measured_on = serializers.DateField()
    source = text(max_length=160)
    density_sd = Number(help_text=SD)
    base_plus_fog = Number(required=False, allow_null=True, help_text="Density; null: not read.")
    log_exposure_zero = Number(required=False, allow_null=True, help_text=ZERO)
    log_exposure_sd = Number(required=False)
    points = _points()


class PaperNameSerializer(Given):
    """What a paper is called from now on; what is not given stays."""

    name = text(required=False, max_length=80)
    notes = text(required=False)


PAPER_SIDE = StandardSide(
    key="paper",
    plural="printing-papers",
    revisions="paper-curves",
    kind=PAPERS,
    catalogue=PAPER_CATALOGUE,
    standard=PaperSerializer,
    one_standard=OnePaperSerializer,
    revision=PaperCurveSerializer,
    one_revision=OnePaperCurveSerializer,
    new=NewPaperSerializer,
    name=PaperNameSerializer,
    changes=PaperCurveChangesSerializer,
)
