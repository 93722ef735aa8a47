"""Forms of what is kept: a name, a title, the margins within which two stocks count as the same."""

from django import forms

from curves.pages.fields import text_area
from curves.services.comparisons import LONGEST_NAME, LONGEST_TITLE
from labsite.accounts.pages.forms import LabForm


class NameForm(LabForm):
    """The name of a saved comparison."""

    name = forms.CharField(label="Name", max_length=LONGEST_NAME, help_text="None that you have used before.")


class FreezeForm(LabForm):
    """The title under which a frozen comparison is cited."""

    title = forms.CharField(
        label="Title", max_length=LONGEST_TITLE, help_text="What a reader sees: such as Slow films, spring."
    )


class MarginsForm(LabForm):
    """How far two stocks may differ and still count as the same."""

    speed_stops = forms.FloatField(label="Speed, stops", min_value=0, help_text="0.33: a third of a stop.")
    contrast_share = forms.FloatField(
        label="Contrast, share", min_value=0, help_text="0.10: from 0.90 to 1.10 times."
    )
    shape_density = forms.FloatField(
        label="Shape, density", min_value=0, help_text="Mean over toe, middle tones and highlights each."
    )
    reason = text_area("Reason", required=False, rows=2)
