"""Forms about one scan and about scanners: they parse what was typed; the services say whether it will do."""

import json

from django import forms

from curves.pages.fields import DecimalField
from labsite.accounts.pages.forms import LabForm
from scans.imaging.calibrate import DEFAULT_VALID_DAYS
from scans.models import Shows
from scans.queries.trials import scans_for_trial

CORNERS = "Give four corners as four pairs of numbers, such as [[10, 10], [90, 10], [90, 50], [10, 50]]."
PAIRS = (("first_id", "second_id"), ("other_first_id", "other_second_id"))
WAYS = [("right", "to the right"), ("left", "to the left"), ("down", "downwards"), ("up", "upwards")]


class OutlineForm(LabForm):
    """Where the steps, the target or the field lies; posted by the area editor or typed."""

    outline = forms.CharField(label="Corners in pixels", required=False)
    darkens = forms.ChoiceField(label="Steps darken", choices=[("", "not steps"), *WAYS], required=False)

    def clean_outline(self):
        """Return the corners as numbers; what is no list of corners is refused here, with how to write it."""
        text = self.cleaned_data["outline"].strip()
        if not text:
            raise forms.ValidationError("Set the four corners first.")
        try:
            return json.loads(text.replace("−", "-"))
        except (ValueError, RecursionError):
            raise forms.ValidationError(CORNERS) from None


class UnexposedForm(LabForm):
    """An upright rectangle of film that got no light."""

    left_px = DecimalField(label="Left, pixels")
    top_px = DecimalField(label="Top, pixels")
    width_px = DecimalField(label="Width, pixels")
    height_px = DecimalField(label="Height, pixels")

    @property
    def corners(self) -> list[list[float]]:
        """Its corners from the upper left around it."""
        left, top, width, height = (
            self.cleaned_data[name] for name in ("left_px", "top_px", "width_px", "height_px")
        )
        return [[left, top], [left + width, top], [left + width, top + height], [left, top + height]]


class CalibrateForm(LabForm):
    """For how long a calibration is to hold."""

    valid_days = forms.IntegerField(
        label="Valid for, days",
        initial=DEFAULT_VALID_DAYS,
        help_text="A lamp ages and a scanner warms up; calibrate again when it has run out.",
    )


class TakeForm(LabForm):
    """What the preview showed, and why readings that stand are replaced."""

    measurement_id = forms.IntegerField(widget=forms.HiddenInput)
    version = forms.CharField(widget=forms.HiddenInput, required=False)
    reason = forms.CharField(
        label="Why readings that stand are replaced", max_length=200, required=False, strip=True
    )


class VoidForm(LabForm):
    """Why a calibration can't be trusted."""

    reason = forms.CharField(label="Reason", max_length=500, required=False)


class TrialForm(LabForm):
    """Scans of one set-up that a trial is made of."""

    edge_id = forms.TypedChoiceField(
        label="Sharp edge",
        required=False,
        coerce=int,
        empty_value=None,
        help_text="Bare metal or a chrome target, far sharper than the scanner: it gives the scanner's MTF.",
    )
    first_id = forms.TypedChoiceField(
        label="Field, first scan",
        required=False,
        coerce=int,
        empty_value=None,
        help_text="The same even field twice, untouched in between: the difference is the scanner's noise.",
    )
    second_id = forms.TypedChoiceField(
        label="Field, second scan", required=False, coerce=int, empty_value=None
    )
    other_first_id = forms.TypedChoiceField(
        label="Another field, first scan",
        required=False,
        coerce=int,
        empty_value=None,
        help_text="Of another density: noise is known only between the densities that were tried.",
    )
    other_second_id = forms.TypedChoiceField(
        label="Another field, second scan", required=False, coerce=int, empty_value=None
    )

    def __init__(self, data=None, *, user, **more):
        super().__init__(data, **more)
        choices = {
            shows: [("", "none"), *((scan.pk, _named(scan)) for scan in scans_for_trial(user, shows))]
            for shows in (Shows.EDGE, Shows.FIELD)
        }
        self.fields["edge_id"].choices = choices[Shows.EDGE]
        for name in (name for pair in PAIRS for name in pair):
            self.fields[name].choices = choices[Shows.FIELD]

    def clean(self):
        """A field is scanned twice or not at all."""
        given = super().clean()
        for pair in PAIRS:
            missing = [name for name in pair if not given.get(name)]
            if len(missing) == 1:
                self.add_error(missing[0], "Choose both scans of the field, or neither.")
        return given

    @property
    def repeats(self) -> list[tuple[int, int]]:
        """The pairs of scans that were chosen."""
        pairs = [tuple(self.cleaned_data[name] for name in pair) for pair in PAIRS]
        return [pair for pair in pairs if all(pair)]


def _named(scan) -> str:
    day = f", {scan.scanned_on:%Y-%m-%d}" if scan.scanned_on else ""
    return f"{scan.code} {scan.filename}, {scan.scanner}{day}"
