"""Forms of studies of agreement and of corrections."""

from django import forms

from curves.models import Instrument, RevisionState, TabletRevision
from curves.pages.fields import day_field, text_area
from curves.services.readings import LONGEST_REASON
from labsite.accounts.pages.forms import LabForm


class StudyForm(LabForm):
    """A strip that goes round; its fields are the arguments of ``create_study``."""

    name = forms.CharField(label="Name", max_length=80, help_text="Such as: Autumn round.")
    strip_name = forms.CharField(
        label="Strip", max_length=120, help_text="Which strip goes round, and where it is kept."
    )
    tablet_revision_id = forms.TypedChoiceField(
        label="It is a step tablet, calibrated",
        required=False,
        coerce=int,
        empty_value=None,
        help_text="Its certified densities can then be the reference.",
    )
    step_count = forms.IntegerField(
        label="Steps", required=False, help_text="Where it is no calibrated tablet: how many steps it has."
    )
    density_type = forms.ChoiceField(label="Density type", choices=Instrument.DensityType.choices)
    geometry = forms.ChoiceField(label="Geometry", choices=Instrument.Geometry.choices)
    planned_replicates = forms.IntegerField(
        label="Readings of each step",
        initial=2,
        help_text="Two or more; take the strip out between them, or only the display is repeated.",
    )
    notes = text_area("Notes", required=False)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        tablets = TabletRevision.objects.filter(state=RevisionState.IN_FORCE).select_related("tablet")
        self.fields["tablet_revision_id"].choices = [("", "no"), *((each.pk, str(each)) for each in tablets)]


class StudyReadingsForm(LabForm):
    """What goes with the cells: why saved readings change, and over which they were typed."""

    reason = forms.CharField(
        label="Why saved readings change",
        required=False,
        max_length=LONGEST_REASON,
        help_text="Kept with the old reading, such as: digits swapped.",
    )
    version = forms.CharField(required=False, max_length=16, widget=forms.HiddenInput)


class WithdrawForm(LabForm):
    """Whose readings with which instrument do not count, of which step, and why."""

    group = forms.ChoiceField(label="Whose readings")
    step = forms.IntegerField(label="Step", required=False, help_text="Empty: all of them.")
    reason = forms.CharField(label="Why they do not count", max_length=LONGEST_REASON)

    def __init__(self, *args, groups, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["group"].choices = [
            (f"{each.member.pk}-{each.instrument.pk}", each.label) for each in groups
        ]

    def clean(self) -> dict:
        """Return the arguments of the service."""
        given = super().clean()
        if "group" not in given:
            return given
        member_id, instrument_id = given.pop("group").split("-")
        return given | {"member_id": int(member_id), "instrument_id": int(instrument_id)}


class StudyReasonForm(LabForm):
    """Why a study is opened again, or a correction taken out of force."""

    reason = forms.CharField(label="Reason", max_length=300)


class CorrectForm(LabForm):
    """From which day a correction applies, and why."""

    reference = forms.CharField(widget=forms.HiddenInput, required=False)
    seen = forms.CharField(widget=forms.HiddenInput, required=False, max_length=16)
    applies_from_on = day_field(
        "Applies to readings from",
        help_text="As far back as the instrument is known to have read like this, and no further.",
    )
    reason = text_area(
        "Why", rows=2, help_text="Such as: zero not set since the lamp was changed. Kept with the revision."
    )
