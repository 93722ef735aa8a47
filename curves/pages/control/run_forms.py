"""Forms of process runs. The rolls area uses ``RunForm`` too: with ``revision`` it asks for no standard."""

from django import forms

from curves.models import ProcessRevision
from curves.models.processes import ControlState, ProcessStandard
from curves.pages.fields import DecimalField, MinutesField, day_field, text_area
from curves.queries.revisions import minutes_text
from curves.queries.runs import RunFilter, operators, revisions_for_runs
from labsite.accounts.pages.forms import LabForm


class RunForm(LabForm):
    """How a tank or machine load really went; its fields are the arguments of ``record_run``.

    Nothing that was measured is filled in beforehand: a value that is already there is soon taken for read.
    """

    revision_id = forms.TypedChoiceField(label="Process standard", coerce=int)
    ran_on = day_field("Day")
    temperature_start_c = DecimalField(label="Temperature at the start, °C")
    temperature_end_c = DecimalField(label="Temperature at the end, °C", required=False)
    development_time_s = MinutesField(label="Developing time, min:s")
    developer_batch = forms.CharField(
        label="Developer batch",
        max_length=80,
        required=False,
        help_text="As on the bottle's label, with the day it was mixed.",
    )
    films_through = forms.IntegerField(
        label="Films developed in this batch before", initial=0, min_value=0, max_value=10000
    )
    notes = text_area("Notes", required=False)

    def __init__(self, *args, revision: ProcessRevision | None = None, **kwargs):
        super().__init__(*args, **kwargs)
        if revision is None:
            choices = [(each.pk, str(each)) for each in revisions_for_runs()]
            self.fields["revision_id"].choices = [("", "Choose a standard"), *choices]
            return
        del self.fields["revision_id"]
        aim = f"Standard: {revision.temperature_c:g} ± {revision.temperature_tolerance_c:g} °C."
        self.fields["temperature_start_c"].help_text = aim
        time_text = minutes_text(revision.development_time_s) or revision.get_time_rule_display()
        self.fields["development_time_s"].help_text = f"As measured. Standard: {time_text}."


class CorrectionForm(RunForm):
    """A run's record, mended, with the reason."""

    reason = text_area(
        "What was wrong with the record", rows=2, help_text="Kept with what the record said before."
    )


class JudgementForm(LabForm):
    """Whether a run was in control, as somebody judged it."""

    control_state = forms.ChoiceField(label="The run was", choices=ControlState.choices)
    reason = text_area("What showed it", rows=2, help_text="The strip that was read, or the rule broken.")


class RunFilterForm(forms.Form):
    """Which runs are wanted."""

    standard_id = forms.TypedChoiceField(
        label="Process standard", required=False, coerce=int, empty_value=None
    )
    control_state = forms.ChoiceField(
        label="State", required=False, choices=[("", "any"), *ControlState.choices]
    )
    operator_id = forms.TypedChoiceField(label="Operator", required=False, coerce=int, empty_value=None)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        standards = ProcessStandard.objects.values_list("pk", "name")
        self.fields["standard_id"].choices = [("", "any"), *standards]
        self.fields["operator_id"].choices = [("", "anyone"), *((p.pk, str(p)) for p in operators())]

    def wanted(self) -> RunFilter | None:
        """Return what is wanted, or None when the address asks for what does not exist."""
        return RunFilter(**self.cleaned_data) if self.is_valid() else None
