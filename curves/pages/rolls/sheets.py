"""The two sheets that go into the darkroom: what to set for every frame, and how to process."""

import re

from django import forms
from django.shortcuts import render
from django.views.decorators.http import require_safe

from curves.importers.numbers import clean_number
from curves.pages.access import members_only
from curves.pages.fields import DecimalField
from curves.queries.exposure_sheet import ExposureSheet, SheetSettings, exposure_sheet
from curves.queries.processes import process_facts
from curves.queries.rolls import visible_roll
from labsite.common.errors import InvalidInput

_FRACTION = re.compile(r"1/(\d{1,5})(?:\s*s)?")
BATHS = ("Pre-soak, if any", "Developer", "Stop bath", "Fixer", "Wash", "Wetting agent, drying")


class ShutterField(forms.CharField):
    """A shutter time as engraved: 1/125, or 0.5, in seconds."""

    widget = forms.TextInput(attrs={"autocomplete": "off", "placeholder": "1/125"})
    default_error_messages = {"invalid": "Write a shutter time such as 1/125, or 0.5, in seconds."}

    def to_python(self, value):
        """Return seconds."""
        text = clean_number(super().to_python(value) or "")
        if text in self.empty_values:
            return None
        if (found := _FRACTION.fullmatch(text)) and int(found[1]) > 0:
            return 1 / int(found[1])
        try:
            seconds = float(text.removesuffix("s").strip().replace(",", "."))
        except ValueError:
            raise forms.ValidationError(self.error_messages["invalid"], code="invalid") from None
        if not 1e-5 < seconds <= 60:
            raise forms.ValidationError(self.error_messages["invalid"], code="invalid")
        return seconds


class SheetForm(forms.Form):
    """The metered exposure and the bracket, as they stand in the address."""

    shutter = ShutterField(label="Metered shutter time")
    aperture = DecimalField(label="Metered aperture, f/", min_value=0.7, max_value=128)
    speed = DecimalField(label="Speed to test, ISO", min_value=0.5, max_value=102400)
    span = DecimalField(label="Bracket, ± stops", min_value=0, max_value=5)
    per_stop = forms.TypedChoiceField(
        label="Frames a stop", coerce=int, choices=[(1, "1"), (2, "2, halves"), (3, "3, thirds")]
    )
    widest = DecimalField(label="Widest aperture, f/", min_value=0.7, max_value=128)
    smallest = DecimalField(label="Smallest aperture, f/", min_value=0.7, max_value=128)
    fastest = ShutterField(label="Fastest shutter time")

    START = {
        "shutter": "1/60",
        "aperture": "8",
        "span": "2",
        "per_stop": "3",
        "widest": "2",
        "smallest": "22",
        "fastest": "1/1000",
    }

    def __init__(self, query, *, speed: int):
        start = self.START | {"speed": str(speed)}
        super().__init__(start | {name: query[name] for name in query if name in self.base_fields})

    def clean(self) -> dict:
        """Ask for a lens that can be set."""
        cleaned = super().clean()
        if {"widest", "smallest"} <= set(cleaned) and cleaned["widest"] > cleaned["smallest"]:
            self.add_error("smallest", "The smallest aperture has the greater f-number.")
        return cleaned

    def settings(self) -> SheetSettings:
        """Return what a valid form asks for."""
        asked = self.cleaned_data
        return SheetSettings(
            shutter_s=asked["shutter"],
            aperture=asked["aperture"],
            exposure_index=asked["speed"],
            span_stops=asked["span"],
            per_stop=asked["per_stop"],
            widest_aperture=asked["widest"],
            smallest_aperture=asked["smallest"],
            fastest_shutter_s=asked["fastest"],
        )


@require_safe
@members_only
def exposure_sheet_page(request, roll_id: int):
    """Show what to set for every frame of a roll, to be ticked off beside the camera."""
    roll = visible_roll(request.user, roll_id)
    form = SheetForm(request.GET, speed=roll.batch.stock.box_speed)
    sheet: ExposureSheet | None = None
    if form.is_valid():
        try:
            sheet = exposure_sheet(request.user, roll_id, form.settings())
        except InvalidInput as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.message)
    context = {"roll": roll, "form": form, "sheet": sheet}
    return render(request, "curves/rolls/exposure_sheet.html", context, status=200 if sheet else 400)


@require_safe
@members_only
def processing_sheet_page(request, roll_id: int):
    """Show how a roll is processed, with room for what was measured."""
    roll = visible_roll(request.user, roll_id)
    context = {
        "roll": roll,
        "revision": roll.process_revision,
        "run": roll.run,
        "facts": process_facts(roll.process_revision)[:-1],
        "baths": BATHS,
    }
    return render(request, "curves/rolls/processing_sheet.html", context)
