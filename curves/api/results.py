"""Results: the analysis of a roll, and what stands for a stock under a pair of standards."""

from django.db.models import Prefetch
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.response import Response

from curves.api.engine import (
    AgainstReferenceSerializer,
    EngineSerializer,
    MeasureSerializer,
    difference_document,
    engine_document,
)
from curves.api.labels import RevisionLabelSerializer, StockLabelSerializer
from curves.models import Analysis, PooledAnalysis
from curves.queries.roll_page import roll_page
from curves.queries.rolls import visible_analyses, visible_roll
from curves.queries.stock_sheet import visible_stock
from curves.queries.stock_versions import open_results
from curves.queries.stocks import visible_results, visible_stocks
from labsite.accounts.api.access import Readers
from labsite.accounts.api.documents import operation
from labsite.accounts.api.fields import Asked, identifier
from labsite.accounts.api.views import LabView
from labsite.common.errors import NotFound


class AnalysisSerializer(EngineSerializer):
    """The curve and measures of one roll, as the engine made them."""

    roll_id = serializers.IntegerField()
    is_standing = serializers.BooleanField(help_text="Whether it is the roll's result now.")


class RollReferenceSerializer(serializers.Serializer):
    """A roll next to the house reference of its standards; null where there is none."""

    reference = StockLabelSerializer(allow_null=True)
    is_own_stock = serializers.BooleanField(help_text="Whether the roll is of the reference itself.")
    comparison = AgainstReferenceSerializer(allow_null=True)


class StockResultSerializer(serializers.Serializer):
    """What stands for a stock under a pair of standards, without its curve."""

    id = serializers.IntegerField(source="pooled_id")
    stock = StockLabelSerializer()
    process_revision = RevisionLabelSerializer()
    exposure_revision = RevisionLabelSerializer()
    roll_count = serializers.IntegerField(
        source="pooled.roll_count", help_text="Rolls that the numbers rest on."
    )
    left_out_count = serializers.IntegerField(
        source="pooled.left_out_count", help_text="Accepted rolls without a speed point."
    )
    engine_version = serializers.CharField(source="pooled.engine_version")
    input_digest = serializers.CharField(source="pooled.input_digest", help_text="SHA-256 of its analyses.")
    computed_at = serializers.DateTimeField(source="pooled.created_at")
    overrides = serializers.SerializerMethodField(
        help_text="Why rolls that were held back count in it all the same."
    )
    measures = serializers.DictField(
        source="pooled.measures", child=MeasureSerializer(), help_text="By name; see /measures/."
    )

    @extend_schema_field(serializers.ListField(child=serializers.CharField()))
    def get_overrides(self, result) -> list[str]:
        """Return each override with its roll."""
        return _overrides(result.pooled)


class OneStockResultSerializer(EngineSerializer):
    """The pooled curve and measures of a stock, as the engine made them."""

    stock = StockLabelSerializer()
    process_revision = RevisionLabelSerializer()
    exposure_revision = RevisionLabelSerializer()
    is_standing = serializers.BooleanField(help_text="Whether it is the stock's result now.")
    analysis_ids = serializers.ListField(
        child=serializers.IntegerField(), help_text="The analyses of rolls that it rests on."
    )
    overrides = serializers.ListField(
        child=serializers.CharField(), help_text="Why rolls that were held back count in it all the same."
    )


class PastResultSerializer(serializers.Serializer):
    """A result that stands or stood for a stock, without its numbers."""

    id = serializers.IntegerField()
    process_revision = RevisionLabelSerializer()
    exposure_revision = RevisionLabelSerializer()
    roll_count = serializers.IntegerField(help_text="Rolls that the numbers rest on.")
    left_out_count = serializers.IntegerField(help_text="Accepted rolls without a speed point.")
    engine_version = serializers.CharField()
    input_digest = serializers.CharField(help_text="SHA-256 of its analyses.")
    computed_at = serializers.DateTimeField(source="created_at")


class ResultsAskedSerializer(Asked):
    """Which results are wanted."""

    stock_id = identifier(required=False)
    process_revision_id = identifier(required=False)
    exposure_revision_id = identifier(required=False)


class RollAnalysis(LabView):
    """The standing analysis of a roll."""

    @operation(access=Readers, answer=AnalysisSerializer, refusals=(404,))
    def get(self, request, roll_id: int):
        """Read a roll's standing curve and measures."""
        roll = visible_roll(request.user, roll_id)
        if roll.current_analysis is None:
            raise NotFound(f"{roll.code} has no result yet.")
        return _analysis_answer(roll.current_analysis, is_standing=True)


class RollComparison(LabView):
    """A roll against the reference."""

    @operation(access=Readers, answer=RollReferenceSerializer, refusals=(404,))
    def get(self, request, roll_id: int):
        """Read how a roll differs from the house reference of its standards."""
        against = roll_page(request.user, roll_id).reference
        if against is None:
            return Response({"reference": None, "is_own_stock": False, "comparison": None})
        return Response(
            {
                "reference": StockLabelSerializer(against.stock).data,
                "is_own_stock": against.is_own_stock,
                "comparison": difference_document(against.comparison),
            }
        )


class OneAnalysis(LabView):
    """An analysis, standing or not."""

    @operation(access=Readers, answer=AnalysisSerializer, refusals=(404,))
    def get(self, request, analysis_id: int):
        """Read an analysis by its number; it never changes."""
        analysis = visible_analyses(request.user).filter(pk=analysis_id).select_related("roll").first()
        if analysis is None:
            raise NotFound("There is no such analysis, or it is not open to you.")
        return _analysis_answer(analysis, is_standing=analysis.roll.current_analysis_id == analysis.pk)


class StockResults(LabView):
    """What stands for the stocks."""

    @operation(access=Readers, asks=ResultsAskedSerializer, lists=StockResultSerializer)
    def get(self, request):
        """List the standing results of stocks with their measures."""
        wanted = self.asked(ResultsAskedSerializer)
        results = visible_results(request.user).defer("pooled__detail").filter(**wanted)
        rolls = Analysis.objects.select_related("roll__run").defer("measures", "detail")
        results = results.prefetch_related(Prefetch("pooled__analyses", rolls))
        return self.paged(StockResultSerializer, results.order_by("stock__name", "stock__maker", "-id"))


class PastResults(LabView):
    """All results that a stock has had."""

    @operation(access=Readers, lists=PastResultSerializer)
    def get(self, request, stock_id: int):
        """List every result that a stock has had, newest first; visitors get those that still count."""
        return self.paged(
            PastResultSerializer, open_results(request.user, visible_stock(request.user, stock_id))
        )


class OneStockResult(LabView):
    """A stock's result, standing or past."""

    @operation(access=Readers, answer=OneStockResultSerializer, refusals=(404,))
    def get(self, request, result_id: int):
        """Read a stock's result by its number, with its curve; it never changes."""
        result = _result(request.user, result_id)
        standing = visible_results(request.user).filter(pooled=result)
        return Response(
            engine_document(result)
            | {
                "stock": StockLabelSerializer(result.stock).data,
                "process_revision": RevisionLabelSerializer(result.process_revision).data,
                "exposure_revision": RevisionLabelSerializer(result.exposure_revision).data,
                "is_standing": standing.exists(),
                "analysis_ids": sorted(result.analyses.values_list("pk", flat=True)),
                "overrides": _overrides(result),
            }
        )


def _analysis_answer(analysis: Analysis, *, is_standing: bool) -> Response:
    return Response(engine_document(analysis) | {"roll_id": analysis.roll_id, "is_standing": is_standing})


def _overrides(pooled: PooledAnalysis) -> list[str]:
    analyses = sorted(pooled.analyses.all(), key=lambda analysis: analysis.roll_id)
    return [
        f"{analysis.roll.code}: {reason}"
        for analysis in analyses
        for reason in analysis.roll.override_reasons
    ]


def _result(user, result_id: int) -> PooledAnalysis:
    results = PooledAnalysis.objects.filter(pk=result_id, stock__in=visible_stocks(user))
    related = ("stock", "process_revision__standard", "exposure_revision__standard")
    result = results.select_related(*related).first()
    if result is None or result_id not in {each.pk for each in open_results(user, result.stock)}:
        raise NotFound("There is no such result, or it is not open to you.")
    return result
