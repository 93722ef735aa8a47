"""Forms of control strips and their aims: four densities, a batch, limits by hand."""

import re

from django import forms

from curves.models import Instrument, StripBatch
from curves.pages.fields import DecimalField, text_area
from curves.queries.control_strips import revisions_for_aims
from curves.sensitometry.controlling.control_strips import QUANTITIES
from curves.sensitometry.controlling.rule_definitions import RULE_SETS
from curves.sensitometry.controlling.strip_aims import TYPICAL_LIMITS
from labsite.accounts.pages.forms import LabForm

RULE_CHOICES = [(key, each.title) for key, each in RULE_SETS.items()]


def batch_field(label: str = "Batch of strips") -> forms.TypedChoiceField:
    """Return a field for a batch of strips; its choices are filled in where the form is made."""
    return forms.TypedChoiceField(label=label, coerce=int)


def batch_choices(*, without: int | None = None) -> list[tuple]:
    """Return the batches to choose from, newest first."""
    batches = StripBatch.objects.exclude(pk=without).order_by("-pk")
    return [("", "Choose a batch"), *((each.pk, each.code) for each in batches)]


class StripForm(LabForm):
    """What a control strip read; its fields are the arguments of ``read_strip``."""

    batch_id = batch_field()
    base_fog = DecimalField(label="Base plus fog, D", required=False)
    speed_step = DecimalField(label="Speed step, D", required=False)
    high_step = DecimalField(label="High step, D", required=False)
    dmax = DecimalField(label="Maximum density, D", required=False)
    instrument_id = forms.TypedChoiceField(
        label="Instrument", required=False, coerce=int, empty_value=None, choices=[]
    )

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["batch_id"].choices = batch_choices()
        instruments = Instrument.objects.filter(is_active=True)
        self.fields["instrument_id"].choices = [
            ("", "not stated"),
            *((each.pk, each.name) for each in instruments),
        ]


class StripBatchForm(LabForm):
    """Strips that were exposed together."""

    code = forms.CharField(
        label="Code", max_length=60, help_text="As on the box that the strips are kept in."
    )
    notes = text_area("Notes", required=False, help_text="Film, tablet, light, day; which steps are read.")


class _AimsForm(LabForm):
    """The standard and batch that aims are for, and the rules that strips are held to."""

    process_revision_id = forms.TypedChoiceField(label="Process standard", coerce=int)
    batch_id = batch_field()
    rules = forms.ChoiceField(
        label="Run rules",
        choices=RULE_CHOICES,
        initial="western_electric",
        help_text="Western Electric's four unless chosen otherwise; each set's false alarms are told on the "
        "charts.",
    )

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        revisions = [(each.pk, str(each)) for each in revisions_for_aims()]
        self.fields["process_revision_id"].choices = [("", "Choose a standard"), *revisions]
        self.fields["batch_id"].choices = batch_choices()


class AimsFromStripsForm(_AimsForm):
    """From how many runs aims are drawn, and which of them do not count."""

    least = forms.IntegerField(
        label="Runs", initial=10, help_text="The latest ones with a strip that are not out of control."
    )
    left_out = forms.CharField(
        label="Leave out runs",
        required=False,
        max_length=400,
        help_text="Numbers of runs that were not in control, such as 14, 17.",
    )
    change_note = text_area("Note", rows=2, required=False)

    def clean_left_out(self) -> list[int]:
        """Return the numbers of the runs."""
        parts = [part for part in re.split(r"[\s,;]+", self.cleaned_data["left_out"]) if part]
        if not all(part.isascii() and part.isdigit() and len(part) < 10 for part in parts):
            raise forms.ValidationError("Give numbers of runs with commas between them, such as 14, 17.")
        return [int(part) for part in parts]


class StatedAimsForm(_AimsForm):
    """Aims and limits by hand."""

    change_note = text_area("Where they come from, and why by hand", rows=2)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        for quantity, title in QUANTITIES.items():
            warning, action = TYPICAL_LIMITS[quantity]
            is_needed = quantity != "dmax"
            self.fields[f"{quantity}_aim"] = DecimalField(label=f"{title}: aim, D", required=is_needed)
            self.fields[f"{quantity}_warning"] = DecimalField(label="Warning ±, D", initial=warning)
            self.fields[f"{quantity}_action"] = DecimalField(label="Action ±, D", initial=action)

    @property
    def rows(self) -> list[tuple]:
        """The three fields of each quantity."""
        return [
            tuple(self[f"{quantity}_{part}"] for part in ("aim", "warning", "action"))
            for quantity in QUANTITIES
        ]

    def clean(self) -> dict:
        """Return centres and limits as the service takes them."""
        given = super().clean()
        named = [name for name in QUANTITIES if given.get(f"{name}_aim") is not None]
        kept = {
            key: given[key]
            for key in ("process_revision_id", "batch_id", "rules", "change_note")
            if key in given
        }
        return kept | {
            "centres": {name: given[f"{name}_aim"] for name in named},
            "limits": {
                name: (given[f"{name}_warning"], given[f"{name}_action"])
                for name in named
                if f"{name}_warning" in given and f"{name}_action" in given
            },
        }


class CarryOverForm(LabForm):
    """The new batch of strips, and why."""

    batch_id = batch_field("New batch of strips")
    change_note = text_area("Note", rows=2, required=False)

    def __init__(self, *args, old_batch_id: int, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["batch_id"].choices = batch_choices(without=old_batch_id)
