"""Patches of a target as an admin enters them, and the readings of a frame as a member types them."""

import re

from django import forms

from curves.importers.numbers import clean_number, comma_is_decimal, parse_number
from curves.pages.fields import DecimalField
from curves.pages.rolls.forms import instrument_choices
from curves.services.patch_sets import PatchValue
from labsite.accounts.pages.forms import LabForm

CELL = re.compile(r"d-([1-9]\d?)(?:-([1-9]\d?))?")
GREY = {"grey", "gray", "g", "yes", "1"}


class PatchesField(forms.CharField):
    """A patch a line: label, luminance factor, and the word grey where it is one."""

    widget = forms.Textarea(attrs={"rows": 14, "spellcheck": "false", "autocomplete": "off"})

    def to_python(self, value):
        """Return the patches, or every fault with its line."""
        patches, faults = read_patches(super().to_python(value) or "")
        if faults:
            raise forms.ValidationError(faults)
        return patches


def read_patches(text: str) -> tuple[list[PatchValue], list[str]]:
    """Return the patches in their order, and what is wrong with the text."""
    patches, faults = [], []
    for number, line in enumerate(text.splitlines(), start=1):
        cells = [cell.strip() for cell in re.split(r"[\t;]", line) if cell.strip()]
        if not cells:
            continue
        if len(cells) not in (2, 3) or (len(cells) == 3 and cells[2].casefold() not in GREY):
            faults.append(
                f"Line {number}: write label; luminance factor; grey, with semicolons or tabs between."
            )
            continue
        factor, _, advice = parse_number(cells[1], comma="decimal", comma_is_sure=True)
        if factor is None:
            faults.append(f"Line {number}: {advice}.")
            continue
        patches.append(PatchValue(cells[0], factor, len(cells) == 3))
    return patches, faults


def patches_text(patches) -> str:
    """Return patches as the field shows them."""
    lines = (f"{p.label}; {p.luminance_factor:.4g}{'; grey' if p.is_grey else ''}" for p in patches)
    return "\n".join(lines)


class PatchSetForm(LabForm):
    """The patches that are photographed under one exposure revision."""

    name = forms.CharField(label="Target", max_length=80)
    source = forms.CharField(
        label="Luminance factors by",
        max_length=160,
        help_text="Who measured them, with what.",
    )
    patches = PatchesField(
        label="Label; luminance factor; grey — one patch a line",
        help_text="Such as: Middle grey; 0.18; grey. A reflection density D is the factor 10^−D.",
    )


class FrameForm(LabForm):
    """A frame of the bracket, besides its densities."""

    label = forms.CharField(label="Frame", max_length=20, help_text="Its number on the film.")
    offset_stops = DecimalField(
        label="Exposure against the metered one, stops", initial=0.0, help_text="More exposure is positive."
    )
    metered_index = DecimalField(label="Index set on the meter", required=False)
    filter_name = forms.CharField(label="Filter", max_length=60, required=False)
    instrument_id = forms.TypedChoiceField(label="Instrument", required=False, coerce=int, empty_value=None)
    reason = forms.CharField(
        label="Why saved readings change", required=False, max_length=200, help_text="Kept with the old ones."
    )

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["instrument_id"].choices = instrument_choices()


class PatchFileForm(LabForm):
    """A file of patch densities and what they were read with."""

    file = forms.FileField(
        label="File",
        allow_empty_file=True,
        help_text="CSV, TSV or XLSX, up to 2 MB.",
        widget=forms.ClearableFileInput(attrs={"accept": ".csv,.tsv,.txt,.xlsx"}),
    )
    instrument_id = forms.TypedChoiceField(label="Instrument", required=False, coerce=int, empty_value=None)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["instrument_id"].choices = instrument_choices()


def typed_densities(data) -> tuple[dict[tuple[int, int], float | None], dict[str, str]]:
    """Return densities by patch number and repeat, None for an emptied cell, and what is wrong elsewhere."""
    texts = {name: data[name] for name in data if CELL.fullmatch(name)}
    comma_is_sure = comma_is_decimal(texts.values())
    densities, errors = {}, {}
    for name, text in texts.items():
        found = CELL.fullmatch(name)
        cell = int(found[1]), int(found[2] or 1)
        if not clean_number(text):
            densities[cell] = None
            continue
        value, _, advice = parse_number(text, comma="decimal", comma_is_sure=comma_is_sure)
        if value is None:
            errors[name] = advice
        else:
            densities[cell] = value
    return densities, errors
