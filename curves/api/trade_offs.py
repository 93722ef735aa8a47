"""Grain against speed and sharpness against grain, for scripts."""

from rest_framework import serializers
from rest_framework.response import Response

from curves.api.comparison import PairSerializer
from curves.api.engine import MeasureSerializer
from curves.queries.trade_offs import PLOTS, TradedStock, trade_offs
from labsite.accounts.api.access import Readers
from labsite.accounts.api.documents import operation
from labsite.accounts.api.fields import Asked, text
from labsite.accounts.api.views import LabView


class TradeStockLabelSerializer(serializers.Serializer):
    """Which stock."""

    id = serializers.IntegerField()
    name = serializers.CharField()
    box_speed = serializers.IntegerField()


class TradedStockSerializer(serializers.Serializer):
    """A stock with both measures of the plot."""

    stock = TradeStockLabelSerializer()
    roll_count = serializers.IntegerField()
    is_reference = serializers.BooleanField()
    across = MeasureSerializer()
    up = MeasureSerializer()
    rig = serializers.CharField(allow_null=True, help_text="Scanner and settings that read its pictures.")
    is_apart = serializers.BooleanField(help_text="By another rig than the lab's: not in the running.")
    verdict = serializers.ChoiceField(
        ["on", "possible", "off"],
        allow_null=True,
        help_text="Whether no other stock betters it in both: certainly, perhaps, or not so.",
    )


class TradeOffsSerializer(serializers.Serializer):
    """One trade-off of the whole lab."""

    plot = serializers.ChoiceField(list(PLOTS))
    pair = PairSerializer(allow_null=True)
    measure_across = serializers.CharField()
    measure_up = serializers.CharField()
    stocks = TradedStockSerializer(many=True, help_text="By name.")
    frontier = serializers.ListField(
        child=serializers.ListField(child=serializers.FloatField()),
        help_text="Corners (across, up) of the step line through what none betters by its values.",
    )


class TradeOffsAskedSerializer(Asked):
    """Which trade-off, under which standards."""

    plot = serializers.ChoiceField(
        list(PLOTS), required=False, help_text="speed: grain against speed; sharpness: against grain."
    )
    standards = text(required=False, max_length=40, help_text="Key of a pair; empty: the first one.")


class TradeOffsOfStocks(LabView):
    """The trade-offs page for scripts."""

    @operation(access=Readers, asks=TradeOffsAskedSerializer, answer=TradeOffsSerializer, refusals=(404,))
    def get(self, request):
        """Read grain against speed, or sharpness against grain, of all stocks, and what none betters."""
        asked = self.asked(TradeOffsAskedSerializer)
        plot = asked.get("plot", "speed")
        view = trade_offs(request.user, plot=plot, pair_key=asked.get("standards", ""))
        across, up = view.measure_names
        return Response(
            {
                "plot": plot,
                "pair": PairSerializer(view.pair).data if view.pair else None,
                "measure_across": across,
                "measure_up": up,
                "stocks": [_stock(stock) for stock in view.stocks],
                "frontier": view.frontier.edge.tolist() if view.frontier else [],
            }
        )


def _stock(stock: TradedStock) -> dict:
    return {
        "stock": {"id": stock.stock_id, "name": stock.name, "box_speed": stock.box_speed},
        "roll_count": stock.roll_count,
        "is_reference": stock.is_reference,
        "across": stock.across.to_dict(),
        "up": stock.up.to_dict(),
        "rig": stock.rig.words if stock.rig else None,
        "is_apart": stock.is_apart,
        "verdict": stock.verdict or None,
    }
