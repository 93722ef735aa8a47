"""Forms of test rolls; their fields are the arguments of the services."""

from itertools import groupby

from django import forms

from curves.models import Batch, RollState
from curves.pages.fields import day_field, text_area
from curves.queries.readings import usable_instruments
from curves.queries.rolls import PlanChoices, RollChoices, RollFilter
from curves.services.readings import LONGEST_REASON
from labsite.accounts.pages.forms import LabForm


class RollFilterForm(forms.Form):
    """Which rolls are wanted."""

    state = forms.ChoiceField(label="State", required=False, choices=[("", "any"), *RollState.choices])
    stock_id = forms.TypedChoiceField(label="Stock", required=False, coerce=int, empty_value=None)
    member_id = forms.TypedChoiceField(label="Member", required=False, coerce=int, empty_value=None)
    process_id = forms.TypedChoiceField(
        label="Process standard", required=False, coerce=int, empty_value=None
    )
    exposure_id = forms.TypedChoiceField(
        label="Exposure standard", required=False, coerce=int, empty_value=None
    )
    is_mine = forms.BooleanField(label="Mine only", required=False)

    def __init__(self, *args, choices: RollChoices, is_for_member: bool, **kwargs):
        super().__init__(*args, **kwargs)
        for name, rows in (
            ("stock_id", choices.stocks),
            ("member_id", choices.members),
            ("process_id", choices.processes),
            ("exposure_id", choices.exposures),
        ):
            self.fields[name].choices = [("", "any"), *((row.pk, str(row)) for row in rows)]
        if not is_for_member:
            # Visitors see accepted rolls, without who made them.
            for name in ("state", "member_id", "is_mine"):
                del self.fields[name]

    def wanted(self) -> RollFilter | None:
        """Return what is wanted, or None when the address asks for what does not exist."""
        return RollFilter(**self.cleaned_data) if self.is_valid() else None


class PlanForm(LabForm):
    """A new roll: which film, under which standards."""

    batch_id = forms.TypedChoiceField(label="Stock and batch", coerce=int)
    exposure_revision_id = forms.TypedChoiceField(label="Exposure standard", coerce=int)
    process_revision_id = forms.TypedChoiceField(label="Process standard", coerce=int)
    exposed_on = day_field("Day of exposure", required=False, help_text="Empty if it is still to come.")
    notes = text_area("Notes", required=False)

    def __init__(self, *args, choices: PlanChoices, **kwargs):
        super().__init__(*args, **kwargs)
        groups = groupby(choices.batches, key=lambda batch: batch.stock)
        batches = [(_stock_title(stock), [_batch_choice(b) for b in batches]) for stock, batches in groups]
        self.fields["batch_id"].choices = [("", "Choose a batch"), *batches]
        for name, revisions in (
            ("exposure_revision_id", choices.exposures),
            ("process_revision_id", choices.processes),
        ):
            options = [(revision.pk, str(revision)) for revision in revisions]
            # A lone standard is no choice; among several nobody should take the first one unread.
            lead = [] if len(options) == 1 else [("", "Choose a standard")]
            self.fields[name].choices = lead + options


class RollForm(LabForm):
    """What may still change of a planned roll."""

    exposed_on = day_field("Day of exposure", required=False)
    notes = text_area("Notes", required=False, rows=5)


class ReadingsForm(LabForm):
    """What goes with the cells of the grid: by which instrument, over which readings, and why."""

    instrument_id = forms.TypedChoiceField(label="Instrument", required=False, coerce=int, empty_value=None)
    is_for_all = forms.BooleanField(
        label="Also for the readings that are saved already",
        required=False,
        help_text="Otherwise they keep the instrument they were read with.",
    )
    reason = forms.CharField(
        label="Why saved readings change",
        required=False,
        max_length=LONGEST_REASON,
        help_text="Kept with the old reading, such as: digits swapped.",
    )
    version = forms.CharField(required=False, max_length=16, widget=forms.HiddenInput)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["instrument_id"].choices = instrument_choices()


class ImportForm(LabForm):
    """A file of readings and what they were read with."""

    file = forms.FileField(
        label="File",
        allow_empty_file=True,
        help_text="CSV, XLSX or CGATS text, up to 2 MB.",
        widget=forms.ClearableFileInput(attrs={"accept": ".csv,.tsv,.txt,.xlsx,.cgats,.it8"}),
    )
    instrument_id = forms.TypedChoiceField(label="Instrument", required=False, coerce=int, empty_value=None)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["instrument_id"].choices = instrument_choices()


class RemarkForm(LabForm):
    """A note for the whole lab."""

    text = text_area("Remark", rows=2)


class AcceptForm(LabForm):
    """A decision for the roll; with the reason for an override where the run asks for one."""

    reasons = text_area("Note", rows=2, required=False, help_text="Shown with the roll.")
    control_override_reason = text_area(
        "Let it into comparisons although its run was out of control, because",
        rows=2,
        required=False,
        help_text="Shown wherever the result is. Empty: accepted, but kept out of comparisons.",
    )
    seen_analysis_id = forms.IntegerField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args, is_out_of_control: bool, **kwargs):
        super().__init__(*args, auto_id="accept_%s", **kwargs)
        if not is_out_of_control:
            del self.fields["control_override_reason"]


class ReturnForm(LabForm):
    """A decision to have something mended."""

    reasons = text_area("What the member should mend", rows=2)
    seen_analysis_id = forms.IntegerField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, auto_id="return_%s", **kwargs)


class OverrideForm(LabForm):
    """Why a roll counts although its run was out of control."""

    reason = text_area("Let it into comparisons because", rows=2, help_text="Shown wherever the result is.")


def instrument_choices() -> list[tuple]:
    """Return the instruments in use, and that none is named."""
    return [("", "not recorded"), *((each.pk, str(each)) for each in usable_instruments())]


def _stock_title(stock) -> str:
    return f"{stock.name} ({stock.maker})"


def _batch_choice(batch: Batch) -> tuple[int, str]:
    return batch.pk, f"{batch.stock.name}, {batch}"
