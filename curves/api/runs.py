"""Process runs: recorded, judged at once by their tolerances, judged by hand, corrected."""

from rest_framework import serializers

from curves.api.labels import RevisionLabelSerializer, RollLabelSerializer
from curves.models.processes import ControlState
from curves.queries.runs import RunFilter, run_page, visible_runs
from curves.services.runs import RECORDED, correct_run, judge_run, record_run
from labsite.accounts.api.access import Members
from labsite.accounts.api.documents import operation
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
from labsite.accounts.api.views import LabView

THROUGH = "Films developed in this developer batch before this run."
UNKNOWN_END = "°C; null: not measured."


class RunSerializer(serializers.Serializer):
    """One tank or machine load, as it really went."""

    id = serializers.IntegerField()
    revision = RevisionLabelSerializer()
    operator = PersonSerializer()
    ran_on = serializers.DateField()
    temperature_start_c = serializers.FloatField(help_text="°C.")
    temperature_end_c = serializers.FloatField(allow_null=True, help_text=UNKNOWN_END)
    development_time_s = serializers.IntegerField(help_text="Seconds.")
    developer_batch = serializers.CharField()
    films_through = serializers.IntegerField(help_text=THROUGH)
    control_state = Choice(ControlState)
    control_reason = serializers.CharField(help_text="Which rule was broken, or what showed control.")
    notes = serializers.CharField()
    is_void = serializers.BooleanField(help_text="Whether an admin declared that nothing rests on it.")
    created_at = serializers.DateTimeField()


class RunChangeSerializer(serializers.Serializer):
    """A correction or a judgement by hand."""

    at = serializers.DateTimeField(source="record.at")
    action = serializers.CharField(source="record.action")
    actor = PersonSerializer(source="record.actor", allow_null=True)
    before = serializers.CharField()
    after = serializers.CharField()
    reason = serializers.CharField(source="record.reason")


class OneRunSerializer(serializers.Serializer):
    """A run with its rolls, its changes and what you may do with it."""

    run = RunSerializer()
    rolls = RollLabelSerializer(many=True)
    changes = RunChangeSerializer(many=True)
    can_judge = serializers.BooleanField()
    can_lift = serializers.BooleanField(help_text="Whether you may lift “out of control”.")
    can_correct = serializers.BooleanField()


class NewRunSerializer(Given):
    """A run, as it really went."""

    revision_id = identifier(help_text="The process revision that it was made under.")
    ran_on = serializers.DateField()
    temperature_start_c = Number(help_text="°C.")
    temperature_end_c = Number(required=False, allow_null=True, help_text=UNKNOWN_END)
    development_time_s = whole(help_text="Seconds.")
    developer_batch = text(required=False, max_length=80)
    films_through = whole(required=False, help_text=THROUGH)
    notes = text(required=False)


class CorrectionSerializer(Given):
    """What was wrong in a run's record; what is not given stays."""

    reason = text(help_text="What was wrong with the record.")
    ran_on = serializers.DateField(required=False)
    temperature_start_c = Number(required=False, help_text="°C.")
    temperature_end_c = Number(required=False, allow_null=True, help_text=UNKNOWN_END)
    development_time_s = whole(required=False, help_text="Seconds.")
    developer_batch = text(required=False, max_length=80)
    films_through = whole(required=False, help_text=THROUGH)
    notes = text(required=False)


class JudgementSerializer(Given):
    """Whether a run was in control, as somebody judged it."""

    control_state = Choice(ControlState)
    reason = text(help_text="What showed it: the strip read, or the rule that was broken.")


class RunsAskedSerializer(Asked):
    """Which runs are wanted."""

    standard_id = identifier(required=False, help_text="Process standard.")
    control_state = Choice(ControlState, required=False)
    operator_id = identifier(required=False)


class Runs(LabView):
    """The lab's process runs."""

    @operation(access=Members, asks=RunsAskedSerializer, lists=RunSerializer)
    def get(self, request):
        """List process runs, newest first."""
        wanted = RunFilter(**self.asked(RunsAskedSerializer))
        return self.paged(RunSerializer, visible_runs(request.user, wanted).order_by("-ran_on", "-pk"))

    @operation(access=Members, body=NewRunSerializer, answer=RunSerializer, status=201, refusals=(404,))
    def post(self, request):
        """Record a process run; the answer says whether it kept to the tolerances."""
        run = record_run(actor=request.user, **self.given(NewRunSerializer))
        return self.answer(RunSerializer, run, status=201)


class OneRun(LabView):
    """One run."""

    @operation(access=Members, answer=OneRunSerializer, refusals=(404,))
    def get(self, request, run_id: int):
        """Read one process run with its rolls and all that was said of it."""
        return self.answer(OneRunSerializer, run_page(request.user, run_id))


class JudgeRun(LabView):
    """Judging by hand."""

    @operation(access=Members, body=JudgementSerializer, answer=RunSerializer, refusals=(404, 409))
    def post(self, request, run_id: int):
        """State whether a run was in control; its operator or an admin may."""
        judged = judge_run(actor=request.user, run_id=run_id, **self.given(JudgementSerializer))
        return self.answer(RunSerializer, judged)


class CorrectRun(LabView):
    """Mending a record."""

    @operation(access=Members, body=CorrectionSerializer, answer=RunSerializer, refusals=(404, 409))
    def post(self, request, run_id: int):
        """Mend a slip of the pen in a run's record, with the reason."""
        given = self.given(CorrectionSerializer)
        run = run_page(request.user, run_id).run
        recorded = {name: getattr(run, name) for name in RECORDED} | given
        return self.answer(RunSerializer, correct_run(actor=request.user, run_id=run_id, **recorded))
