"""Print tones and the print plan for scripts: the numbers of the two pages."""

from rest_framework import serializers
from rest_framework.response import Response

from curves.api.engine import MeasureSerializer
from curves.api.labels import StockLabelSerializer
from curves.queries.print_plan import PlannedPrint, print_plan
from curves.queries.print_settings import PrintSettings
from curves.queries.print_tones import PrintedStock, print_tones
from labsite.accounts.api.access import Readers
from labsite.accounts.api.documents import operation
from labsite.accounts.api.fields import Asked, Number, identifier, text
from labsite.accounts.api.views import LabView

MOST_STOCKS = 60


def _within(low: float, high: float, help_text: str) -> Number:
    return Number(required=False, min_value=low, max_value=high, help_text=help_text)


class PrintAskedSerializer(Asked):
    """Standards, stocks and the enlarger; what is not given is as on the page."""

    standards = text(required=False, max_length=40, help_text="Key of a pair; empty: the first one.")
    stock = serializers.ListField(
        child=identifier(), required=False, max_length=MOST_STOCKS, help_text="May be repeated."
    )
    callier_factor = _within(0.8, 3, "Q of the enlarger, 1 for diffuse light.")
    callier_sd = _within(0, 0.5, "Its standard uncertainty.")
    time_s = _within(0.1, 3600, "Print time of the reference.")


class PlanAskedSerializer(PrintAskedSerializer):
    """What the print plan rests on."""

    per_stop = serializers.IntegerField(
        required=False, min_value=1, max_value=24, help_text="Steps of the timer to a stop."
    )


class TonesAskedSerializer(PrintAskedSerializer):
    """What is printed on which paper, and how it was photographed."""

    paper_curve_id = identifier(help_text="A curve of a printing paper.")
    flare = _within(0, 0.5, "Share of the brightest tone.")
    range_stops = _within(1, 15, "Subject range.")
    shadow_stops = _within(-3, 6, "Darkest tone above the speed point.")
    is_by_own_speed = serializers.BooleanField(required=False)
    held_stops = _within(0, 15, "Tone that is held, below the brightest.")
    held_density = _within(0, 3, "Print density of that tone on the reference.")


class ToneSerializer(serializers.Serializer):
    """One whole stop of the subject in the print."""

    stops = serializers.IntegerField(help_text="Below the brightest tone, so 0 or negative.")
    density = MeasureSerializer()


class PrintedStockSerializer(serializers.Serializer):
    """One stock on the paper."""

    stock = StockLabelSerializer()
    is_reference = serializers.BooleanField()
    print_time = MeasureSerializer(source="time")
    tones = ToneSerializer(many=True, source="at_stops", help_text="Empty where it can't be printed.")
    merging = serializers.DictField(
        child=MeasureSerializer(),
        help_text="`highlights_merge` and `shadows_merge`, stops, 0 at the brightest tone.",
    )


class PrintTonesSerializer(serializers.Serializer):
    """Tones of the reference and the chosen stocks, printed at the same settings."""

    standards = serializers.CharField(help_text="Key of the pair; empty without any result.")
    fault = serializers.CharField(help_text="Reason code that stands against all of it; else empty.")
    missing = serializers.ListField(child=serializers.CharField())
    stocks = PrintedStockSerializer(many=True, help_text="The reference first.")


class PlannedPrintSerializer(serializers.Serializer):
    """The print time of one stock."""

    stock = StockLabelSerializer()
    is_reference = serializers.BooleanField()
    base_difference = MeasureSerializer(source="base_change")
    print_time = MeasureSerializer(source="time")
    stops = serializers.FloatField(allow_null=True)
    steps = serializers.IntegerField(allow_null=True, help_text="Nearest step of the timer.")
    step_time_s = serializers.FloatField(allow_null=True)


class PrintPlanSerializer(serializers.Serializer):
    """Print times from the reference's, made up for base plus fog alone."""

    standards = serializers.CharField(help_text="Key of the pair; empty without any result.")
    missing = serializers.ListField(child=serializers.CharField())
    prints = PlannedPrintSerializer(many=True, help_text="The reference first.")


class PrintTonesOfStocks(LabView):
    """The page Print tones for scripts."""

    @operation(access=Readers, asks=TonesAskedSerializer, answer=PrintTonesSerializer, refusals=(404,))
    def get(self, request):
        """Print stocks on a paper at the same settings, and tell the density of every whole stop."""
        asked = self.asked(TonesAskedSerializer)
        chosen = _chosen(asked)
        paper_id = asked.pop("paper_curve_id")
        view = print_tones(request.user, paper_id=paper_id, settings=PrintSettings(**asked), **chosen)
        return Response(
            {
                "standards": view.beside.pair.key if view.beside.pair else "",
                "fault": view.fault,
                "missing": view.beside.missing,
                "stocks": [_printed(each) for each in view.printed],
            }
        )


class PrintPlanOfStocks(LabView):
    """The page Print plan for scripts."""

    @operation(access=Readers, asks=PlanAskedSerializer, answer=PrintPlanSerializer, refusals=(404,))
    def get(self, request):
        """Tell how long each stock is printed so that base plus fog is made up for and nothing else."""
        asked = self.asked(PlanAskedSerializer)
        chosen = _chosen(asked)
        plan = print_plan(request.user, settings=PrintSettings(**asked), **chosen)
        return Response(
            {
                "standards": plan.beside.pair.key if plan.beside.pair else "",
                "missing": plan.beside.missing,
                "prints": [_planned(each) for each in plan.prints],
            }
        )


def _chosen(asked: dict) -> dict:
    """Take standards and stocks out of what was asked for."""
    return {"pair_key": asked.pop("standards", ""), "stock_ids": tuple(asked.pop("stock", ()))}


def _printed(printed: PrintedStock) -> dict:
    return {
        "stock": StockLabelSerializer(printed.stock).data,
        "is_reference": printed.is_reference,
        "print_time": printed.time.to_dict(),
        "tones": [{"stops": tone.stops, "density": tone.density.to_dict()} for tone in printed.at_stops],
        "merging": {name: found.to_dict() for name, found in printed.merging.items()},
    }


def _planned(planned: PlannedPrint) -> dict:
    return {
        "stock": StockLabelSerializer(planned.stock).data,
        "is_reference": planned.is_reference,
        "base_difference": planned.base_change.to_dict(),
        "print_time": planned.time.to_dict(),
        "stops": planned.stops,
        "steps": planned.steps,
        "step_time_s": planned.step_time_s,
    }
