"""The lab's own spread for scripts: components by measure and level, plans, and what they rest on."""

from rest_framework import serializers
from rest_framework.response import Response

from curves.api.comparison import SpreadSerializer
from curves.api.results import MeasureSerializer
from curves.queries.lab_spread import LEVELS, WANTED, SpreadView, spread_view
from labsite.accounts.api.access import Readers
from labsite.accounts.api.documents import operation
from labsite.accounts.api.fields import Asked, text
from labsite.accounts.api.views import LabView


class SpreadMeasureSerializer(serializers.Serializer):
    """Where the spread of one measure comes from."""

    unit = serializers.CharField(help_text="`stop`, `%` (of the contrast) or `D`.")
    model = serializers.ListField(
        child=serializers.CharField(), help_text="Levels of rolls that were told apart, outermost first."
    )
    components = serializers.DictField(
        child=MeasureSerializer(), help_text=f"Standard deviation by level: {', '.join(LEVELS)}."
    )
    groups = serializers.DictField(child=serializers.IntegerField(), help_text="How many there are of each.")
    degrees_of_freedom = serializers.DictField(child=serializers.IntegerField())


class SpreadGainSerializer(serializers.Serializer):
    """What doubling one level does to the error of a difference."""

    level = serializers.CharField()
    smaller_by_percent = serializers.FloatField()
    standard_error = MeasureSerializer()


class SpreadPlanSerializer(serializers.Serializer):
    """What the lab can do about one measure."""

    difference = serializers.FloatField(help_text="What shall be seen, in the unit of the measure.")
    rolls_needed = serializers.DictField(
        child=MeasureSerializer(),
        help_text="Of each stock, by what is the same for both: `same_runs`, `same_members`, "
        "`nothing_shared`; those that can be told.",
    )
    error_now = MeasureSerializer()
    gains = SpreadGainSerializer(many=True)


class LabSpreadSerializer(serializers.Serializer):
    """The estimate that stands for a pair of standards."""

    standards = serializers.CharField(allow_null=True, help_text="Key of the pair.")
    estimate_id = serializers.IntegerField(allow_null=True)
    estimated_at = serializers.DateTimeField(allow_null=True)
    engine_version = serializers.CharField(allow_null=True)
    counts = serializers.DictField(child=serializers.IntegerField(), help_text="What it rests on.")
    spread = SpreadSerializer(allow_null=True, help_text="What verdicts reckon with.")
    measures = serializers.DictField(child=SpreadMeasureSerializer())
    plans = serializers.DictField(child=SpreadPlanSerializer())


class SpreadAskedSerializer(Asked):
    """Under which standards."""

    standards = text(required=False, max_length=40, help_text="Key of a pair; empty: the first one.")


class OwnSpread(LabView):
    """The page of the lab's own spread for scripts."""

    @operation(access=Readers, asks=SpreadAskedSerializer, answer=LabSpreadSerializer, refusals=(404,))
    def get(self, request):
        """Read where the lab's spread comes from, and what would shrink it."""
        asked = self.asked(SpreadAskedSerializer)
        return Response(_document(spread_view(request.user, pair_key=asked.get("standards", ""))))


def _document(view: SpreadView) -> dict:
    estimate = view.estimate
    return {
        "standards": view.pair.key if view.pair else None,
        "estimate_id": estimate.pk if estimate else None,
        "estimated_at": estimate.created_at if estimate else None,
        "engine_version": estimate.engine_version if estimate else None,
        "counts": view.counts,
        "spread": {"levels": {}} | estimate.spread if estimate else None,
        "measures": {
            line.name: {
                "unit": line.unit,
                "model": line.model,
                "components": {
                    level: each.to_dict() for level, each in zip(LEVELS, line.components, strict=True)
                },
                "groups": line.found.groups,
                "degrees_of_freedom": line.found.degrees,
            }
            for line in view.lines
        },
        "plans": {
            name: {
                "difference": WANTED[name],
                "rolls_needed": {way: each.to_dict() for way, each in plan.rolls.items()},
                "error_now": plan.error.to_dict(),
                "gains": [
                    {
                        "level": gain.level,
                        "smaller_by_percent": gain.share,
                        "standard_error": gain.standard_error.to_dict(),
                    }
                    for gain in plan.gains
                ],
            }
            for name, plan in ((each.name, each.plan) for each in view.plans)
        },
    }
