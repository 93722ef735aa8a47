"""Colour response for scripts: the numbers of the page."""

from rest_framework import serializers
from rest_framework.response import Response

from curves.api.engine import MeasureSerializer, measures_document
from curves.api.labels import StockLabelSerializer
from curves.queries.colour_response import ColourStock, colour_response
from curves.sensitometry.comparing.comparison import VERDICTS
from labsite.accounts.api.access import Readers
from labsite.accounts.api.documents import operation
from labsite.accounts.api.fields import Asked, identifier, text
from labsite.accounts.api.views import LabView

MOST_STOCKS = 60


class ColourAskedSerializer(Asked):
    """Which stocks, under which standards and so under which light."""

    standards = text(required=False, max_length=40, help_text="Key of a pair; empty: the first one.")
    stock = serializers.ListField(
        child=identifier(), required=False, max_length=MOST_STOCKS, help_text="None: all that were read."
    )


class ColourPatchSerializer(serializers.Serializer):
    """A coloured patch of the target."""

    label = serializers.CharField()
    luminance_factor = serializers.FloatField(help_text="Share of a perfect white.")


class FilterFactorSerializer(serializers.Serializer):
    """By how much a filter lengthens the exposure of a grey patch."""

    filter_name = serializers.CharField()
    roll_count = serializers.IntegerField(help_text="Rolls that tell it.")
    patch = serializers.CharField(help_text="The grey that tells it; empty where several rolls do.")
    factor = MeasureSerializer()


class ColourStockSerializer(serializers.Serializer):
    """One stock: shifts by patch, in stops."""

    stock = StockLabelSerializer()
    is_reference = serializers.BooleanField()
    roll_count = serializers.IntegerField()
    shifts = serializers.DictField(child=MeasureSerializer(), help_text="From grey, by patch.")
    differences = serializers.DictField(
        child=MeasureSerializer(), help_text="From the reference's shifts, by patch; empty for itself."
    )
    verdicts = serializers.DictField(
        child=serializers.ChoiceField(VERDICTS), help_text="On each difference, by patch; empty for itself."
    )
    filters = FilterFactorSerializer(many=True)


class ColourSpreadSerializer(serializers.Serializer):
    """How much rolls of one stock differ in a patch's shift, by which differences are called real."""

    sd = MeasureSerializer(help_text="Standard deviation in stops, without reading error.")
    degrees_of_freedom = serializers.IntegerField(help_text="Rolls less stocks; fewer where patches miss.")
    roll_count = serializers.IntegerField(help_text="Rolls of stocks with several.")
    stock_count = serializers.IntegerField(help_text="Stocks with several rolls.")


class LightSeriesSerializer(serializers.Serializer):
    """A light under which patches were read with the same process."""

    standards = serializers.CharField(source="key", help_text="Key of the pair, to ask for.")
    light = serializers.CharField(source="name", help_text="daylight or tungsten.")
    colour_temperature_k = serializers.IntegerField(source="exposure.colour_temperature_k")
    stock_count = serializers.IntegerField()


class ColourResponseSerializer(serializers.Serializer):
    """How stocks answer to colours under one light."""

    standards = serializers.CharField(help_text="Key of the pair; empty without any result.")
    light = serializers.CharField(help_text="daylight or tungsten; empty without any result.")
    lights = LightSeriesSerializer(many=True, help_text="Series with this process; each stands apart.")
    missing = serializers.ListField(child=serializers.CharField())
    spread = ColourSpreadSerializer()
    patches = ColourPatchSerializer(many=True)
    stocks = ColourStockSerializer(many=True, help_text="The reference first.")


class ColourResponseOfStocks(LabView):
    """The page Colour response for scripts."""

    @operation(access=Readers, asks=ColourAskedSerializer, answer=ColourResponseSerializer, refusals=(404,))
    def get(self, request):
        """Tell by how many stops each patch is shifted from grey on each stock, beside the reference."""
        asked = self.asked(ColourAskedSerializer)
        view = colour_response(
            request.user,
            pair_key=asked.get("standards", ""),
            stock_ids=tuple(asked.get("stock", ())),
        )
        return Response(
            {
                "standards": view.beside.pair.key if view.beside.pair else "",
                "light": view.series,
                "lights": LightSeriesSerializer(view.lights, many=True).data,
                "missing": view.beside.missing,
                "spread": view.spread.to_dict(),
                "patches": ColourPatchSerializer(view.patches, many=True).data,
                "stocks": [_stock(each) for each in view.stocks],
            }
        )


def _stock(shown: ColourStock) -> dict:
    return {
        "stock": StockLabelSerializer(shown.stock).data,
        "is_reference": shown.is_reference,
        "roll_count": shown.roll_count,
        "shifts": measures_document(shown.shifts),
        "differences": measures_document(shown.differences),
        "verdicts": shown.verdicts,
        "filters": [
            {
                "filter_name": each.filter_name,
                "roll_count": len(each.rolls),
                "patch": each.only_roll.patch if each.only_roll else "",
                "factor": each.factor.to_dict(),
            }
            for each in shown.filters
        ],
    }
