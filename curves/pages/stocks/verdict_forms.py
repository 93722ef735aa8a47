"""Forms of verdicts: the text that a member writes, the decision of an admin."""

from django import forms

from curves.models import Purpose
from curves.pages.fields import text_area
from curves.services.verdicts import MOST_PURPOSES
from labsite.accounts.pages.forms import LabForm


class VerdictForm(LabForm):
    """What a stock is good for, by the result that its author has before them."""

    result_id = forms.IntegerField(widget=forms.HiddenInput, min_value=1)
    purposes = forms.MultipleChoiceField(
        label="Recommended for",
        choices=Purpose.choices,
        widget=forms.CheckboxSelectMultiple,
        help_text=f"1 to {MOST_PURPOSES}; stocks are found by them.",
        error_messages={"required": f"Tick 1 to {MOST_PURPOSES} purposes."},
    )
    what_for = forms.CharField(
        label="What for", max_length=300, help_text="One sentence: for which pictures, in which light."
    )
    strengths = text_area("Strengths", max_length=800, help_text="What it does well, as the sheet shows.")
    watch_out = text_area(
        "Watch out", required=False, max_length=800, help_text="What to mind: a weak shoulder, a dense base."
    )


class DecisionForm(LabForm):
    """A reason, which declining needs."""

    reason = text_area("Reason", required=False, rows=2, max_length=800, help_text="Its author reads this.")
