"""Control strips for scripts: batches, strips of a run, the charts and their notes."""

from rest_framework import serializers
from rest_framework.response import Response

from curves.api.labels import RevisionLabelSerializer
from curves.models import ChartNote, StripBatch
from curves.models.processes import ControlState
from curves.queries.control_charts import KINDS, ControlChartView, control_charts
from curves.queries.control_strips import strip_batches
from curves.queries.runs import run_page
from curves.sensitometry.controlling.control_strips import QUANTITIES
from curves.sensitometry.controlling.rule_definitions import RULE_SETS
from curves.services.chart_notes import add_chart_note
from curves.services.control_strips import add_strip_batch, read_strip, strike_strip
from labsite.accounts.api.access import Admins, Members
from labsite.accounts.api.documents import operation
from labsite.accounts.api.fields import Asked, Choice, Given, Number, PersonSerializer, identifier, text
from labsite.accounts.api.views import LabView

UNREAD = "Gross density; null: not read."


class StripBatchSerializer(serializers.Serializer):
    """Strips that were exposed together."""

    id = serializers.IntegerField()
    code = serializers.CharField()
    notes = serializers.CharField()


class NewStripBatchSerializer(Given):
    """A batch of strips."""

    code = text(max_length=60)
    notes = text(required=False)


class ControlStripSerializer(serializers.Serializer):
    """One strip of a run, as it was read."""

    id = serializers.IntegerField()
    batch = StripBatchSerializer()
    replicate = serializers.IntegerField(help_text="Place among the run's strips of the batch.")
    base_fog = serializers.FloatField(allow_null=True, help_text=UNREAD)
    speed_step = serializers.FloatField(allow_null=True, help_text=UNREAD)
    high_step = serializers.FloatField(allow_null=True, help_text=UNREAD)
    dmax = serializers.FloatField(allow_null=True, help_text=UNREAD)
    instrument_id = serializers.IntegerField(allow_null=True)
    read_by = PersonSerializer()
    read_at = serializers.DateTimeField()
    is_current = serializers.BooleanField(help_text="False: struck out.")
    ended_reason = serializers.CharField()


class StripVerdictSerializer(serializers.Serializer):
    """What the strips of one batch say of the run."""

    strip_batch = StripBatchSerializer(source="judgement.strip_batch")
    aims_id = serializers.IntegerField(source="judgement.aims_id", allow_null=True)
    state = Choice(ControlState, source="judgement.state")
    reason = serializers.CharField(source="judgement.reason_code", help_text="Why it is unproven, as a code.")
    engine_version = serializers.CharField(source="judgement.engine_version")
    verdict = serializers.DictField(
        source="judgement.verdict", help_text="Deviations, rules broken and likely causes, by quantity; D."
    )


class RunStripsSerializer(serializers.Serializer):
    """The control strips of a run, and what they say of it."""

    control_state = Choice(ControlState)
    control_reason = serializers.CharField()
    strips = ControlStripSerializer(many=True)
    verdicts = StripVerdictSerializer(many=True)


class NewStripSerializer(Given):
    """What a strip read; at least one density."""

    batch_id = identifier()
    base_fog = Number(required=False, allow_null=True, help_text=UNREAD)
    speed_step = Number(required=False, allow_null=True, help_text=UNREAD)
    high_step = Number(required=False, allow_null=True, help_text=UNREAD)
    dmax = Number(required=False, allow_null=True, help_text=UNREAD)
    instrument_id = identifier(required=False, allow_null=True)


class StrikeSerializer(Given):
    """Why a strip does not count."""

    reason = text(max_length=200)


class ChartAskedSerializer(Asked):
    """Which chart is wanted."""

    revision = identifier(required=False, help_text="Process revision; else the first with strips.")
    quantity = serializers.ChoiceField(list(QUANTITIES), required=False)
    kind = serializers.ChoiceField(list(KINDS), required=False)
    rules = serializers.ChoiceField(list(RULE_SETS), required=False)


class ChartRunSerializer(serializers.Serializer):
    """A run of the chart, in the order of time."""

    run_id = serializers.IntegerField(source="point.run_id")
    ran_on = serializers.DateField(source="point.ran_on")
    phase = serializers.CharField()
    state = Choice(ControlState, help_text="The verdict that it was given then.")


class ChartNoteSerializer(serializers.Serializer):
    """What happened on a day."""

    id = serializers.IntegerField()
    noted_on = serializers.DateField()
    kind = Choice(ChartNote.Kind, name="ChartNoteKind")
    text = serializers.CharField()
    author = PersonSerializer()


class NewChartNoteSerializer(Given):
    """What happened on a day."""

    process_revision_id = identifier()
    noted_on = serializers.DateField()
    kind = Choice(ChartNote.Kind, name="ChartNoteKind", required=False)
    text = text(max_length=200)


class ControlChartSerializer(serializers.Serializer):
    """Control charts of one quantity under a process revision."""

    revision = RevisionLabelSerializer(allow_null=True)
    quantity = serializers.CharField()
    kind = serializers.CharField()
    rules = serializers.CharField()
    false_alarm_points = serializers.FloatField(help_text="A false alarm about once in so many runs.")
    runs = ChartRunSerializer(many=True)
    charts = serializers.ListField(
        child=serializers.DictField(),
        help_text="Values, centre and limits of each run, D; phases; signals by place from 0.",
    )
    notes = ChartNoteSerializer(many=True)
    withheld = serializers.CharField(help_text="What is not charted, and why.")


class StripBatches(LabView):
    """Batches of strips."""

    @operation(access=Members, lists=StripBatchSerializer)
    def get(self, request):
        """List the batches of control strips, newest first."""
        return self.paged(StripBatchSerializer, strip_batches(request.user))

    @operation(access=Admins, body=NewStripBatchSerializer, answer=StripBatchSerializer, status=201)
    def post(self, request):
        """Add a batch of control strips."""
        batch = add_strip_batch(actor=request.user, **self.given(NewStripBatchSerializer))
        return self.answer(StripBatchSerializer, StripBatch.objects.get(pk=batch.pk), status=201)


class RunStrips(LabView):
    """The strips of a run."""

    @operation(access=Members, answer=RunStripsSerializer, refusals=(404,))
    def get(self, request, run_id: int):
        """Read the control strips of a run, and what they say of it."""
        return _run_strips(request.user, run_id)

    @operation(
        access=Members,
        body=NewStripSerializer,
        answer=RunStripsSerializer,
        status=201,
        refusals=(404, 409),
    )
    def post(self, request, run_id: int):
        """Read a control strip into a run, which is judged at once; its operator or an admin may."""
        read_strip(actor=request.user, run_id=run_id, **self.given(NewStripSerializer))
        return _run_strips(request.user, run_id, status=201)


class StrikeStrip(LabView):
    """Striking out."""

    @operation(access=Members, body=StrikeSerializer, answer=RunStripsSerializer, refusals=(404, 409))
    def post(self, request, strip_id: int):
        """Strike out a strip that was misread; the run is judged without it."""
        strip = strike_strip(actor=request.user, strip_id=strip_id, **self.given(StrikeSerializer))
        return _run_strips(request.user, strip.run_id)


class ControlCharts(LabView):
    """The charts."""

    @operation(access=Members, asks=ChartAskedSerializer, answer=ControlChartSerializer, refusals=(404,))
    def get(self, request):
        """Read the control charts of one quantity under a process revision."""
        asked = self.asked(ChartAskedSerializer)
        view = control_charts(request.user, revision_id=asked.pop("revision", None), **asked)
        return Response(_chart_document(view))


class ChartNotes(LabView):
    """Notes on the charts."""

    @operation(
        access=Members,
        body=NewChartNoteSerializer,
        answer=ChartNoteSerializer,
        status=201,
        refusals=(404,),
    )
    def post(self, request):
        """Keep what happened on a day, for the control charts to show."""
        note = add_chart_note(actor=request.user, **self.given(NewChartNoteSerializer))
        return self.answer(ChartNoteSerializer, note, status=201)


def _run_strips(user, run_id: int, *, status: int = 200) -> Response:
    shown = run_page(user, run_id)
    document = {
        "control_state": shown.run.control_state,
        "control_reason": shown.run.control_reason,
        "strips": [*shown.strips.strips, *shown.strips.struck],
        "verdicts": shown.strips.judgements,
    }
    return Response(RunStripsSerializer(document).data, status=status)


def _chart_document(view: ControlChartView) -> dict:
    return {
        "revision": RevisionLabelSerializer(view.revision).data if view.revision else None,
        "quantity": view.quantity,
        "kind": view.kind,
        "rules": view.rule_set.key,
        "false_alarm_points": view.rule_set.false_alarm_points,
        "runs": ChartRunSerializer(view.points, many=True).data,
        "charts": [chart.to_dict() for chart in view.charts],
        "notes": ChartNoteSerializer(view.notes, many=True).data,
        "withheld": view.withheld,
    }
