"""The comparison of many stocks with the house reference: the numbers of the Compare page."""

from rest_framework import serializers
from rest_framework.response import Response

from curves.api.engine import (
    AgainstReferenceSerializer,
    CurveSerializer,
    MeasureSerializer,
    difference_document,
    measures_document,
)
from curves.api.labels import StockLabelSerializer
from curves.queries.comparison import ComparedStock, StandardPair, comparison_view
from labsite.accounts.api.access import Readers
from labsite.accounts.api.documents import operation
from labsite.accounts.api.fields import Asked, identifier, text
from labsite.accounts.api.views import LabView

MOST_STOCKS = 60


class PairSerializer(serializers.Serializer):
    """A pair of standards under which stocks can be compared."""

    key = serializers.CharField(help_text="What `standards` takes.")
    label = serializers.CharField()
    process_revision_id = serializers.IntegerField()
    exposure_revision_id = serializers.IntegerField()
    is_in_force = serializers.BooleanField()
    stock_count = serializers.IntegerField()


class SpreadSerializer(serializers.Serializer):
    """How much rolls of one stock differ in this lab; a name is missing where too few rolls tell."""

    standard_deviations = serializers.DictField(
        child=serializers.FloatField(),
        help_text="`speed_stops` [stop], `contrast_ratio` [1], `shape` and `base` [density].",
    )
    degrees_of_freedom = serializers.DictField(child=serializers.IntegerField())
    levels = serializers.DictField(
        child=serializers.DictField(child=serializers.FloatField()),
        help_text="The same by level, `member`, `run` and `roll`, as far as these can be told apart; what "
        "both sides of a difference share cancels.",
    )


class ComparedStockSerializer(serializers.Serializer):
    """One stock of the comparison."""

    stock = StockLabelSerializer()
    is_reference = serializers.BooleanField()
    result_id = serializers.IntegerField()
    roll_count = serializers.IntegerField(help_text="Rolls that the numbers rest on.")
    left_out_count = serializers.IntegerField(help_text="Accepted rolls without a speed point.")
    engine_version = serializers.CharField()
    exposure = serializers.ChoiceField(["absolute", "relative"])
    overrides = serializers.ListField(
        child=serializers.CharField(), help_text="Why rolls of runs out of control count all the same."
    )
    measures = serializers.DictField(child=MeasureSerializer(), help_text="By name; see /measures/.")
    comparison = AgainstReferenceSerializer(
        allow_null=True, help_text="Null for the reference itself, and where there is none."
    )
    curve = CurveSerializer(allow_null=True, help_text="Null unless `curves` is asked for.")


class ComparisonSerializer(serializers.Serializer):
    """Stocks next to the house reference under one pair of standards."""

    pairs = PairSerializer(many=True, help_text="Every pair with results, those in force first.")
    pair = PairSerializer(allow_null=True, help_text="The one that is compared under.")
    lab_spread = SpreadSerializer(allow_null=True)
    stocks = ComparedStockSerializer(many=True, help_text="By name; the reference is always among them.")
    missing = serializers.ListField(
        child=serializers.CharField(), help_text="Why a stock that was asked for is not there."
    )
    repooling = serializers.ListField(
        child=serializers.CharField(), help_text="Results that are being pooled anew, or could not be."
    )


class ComparisonAskedSerializer(Asked):
    """What is compared, as in the address of the Compare page."""

    standards = text(required=False, max_length=40, help_text="Key of a pair; empty: the first one.")
    stock = serializers.ListField(
        child=identifier(),
        required=False,
        max_length=MOST_STOCKS,
        help_text="Only these stocks and the reference; may be repeated.",
    )
    curves = serializers.BooleanField(required=False, help_text="Whether curves are answered too.")


class ComparisonOfStocks(LabView):
    """The Compare page for scripts."""

    @operation(access=Readers, asks=ComparisonAskedSerializer, answer=ComparisonSerializer, refusals=(404,))
    def get(self, request):
        """Compare stocks with the house reference under one pair of standards."""
        asked = self.asked(ComparisonAskedSerializer)
        wanted = tuple(asked.get("stock", ()))
        view = comparison_view(request.user, pair_key=asked.get("standards", ""), wanted_stock_ids=wanted)
        shown = [each for each in view.stocks if not wanted or each.is_reference or each.stock.pk in wanted]
        return Response(
            {
                "pairs": [_pair(pair) for pair in view.pairs],
                "pair": _pair(view.pair) if view.pair else None,
                "lab_spread": view.lab_spread or None,
                "stocks": [_stock(each, with_curve=asked.get("curves", False)) for each in shown],
                "missing": view.missing,
                "repooling": [each.sentence for each in view.repoolings],
            }
        )


def _pair(pair: StandardPair) -> dict:
    return PairSerializer(pair).data


def _stock(compared: ComparedStock, *, with_curve: bool) -> dict:
    pooled, analysis = compared.result.pooled, compared.analysis
    comparison = compared.comparison
    return {
        "stock": StockLabelSerializer(compared.stock).data,
        "is_reference": compared.is_reference,
        "result_id": pooled.pk,
        "roll_count": pooled.roll_count,
        "left_out_count": pooled.left_out_count,
        "engine_version": pooled.engine_version,
        "exposure": analysis.exposure,
        "overrides": compared.overrides,
        "measures": measures_document(compared.measures),
        "comparison": difference_document(comparison, with_curve=with_curve) if comparison else None,
        "curve": analysis.curve.to_dict() if with_curve else None,
    }
