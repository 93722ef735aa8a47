"""Form fields as a lab writes its numbers: decimal point or comma, minutes and seconds, ISO days."""

import re

from django import forms

from curves.importers.numbers import clean_number

MINUTES = re.compile(r"(\d{1,3}):([0-5]\d)")
SECONDS = re.compile(r"(\d{1,5})\s*s")


class DecimalField(forms.FloatField):
    """A number with decimal point or decimal comma; the unit stands in the label."""

    widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})
    default_error_messages = {"invalid": "Enter a number, such as 20.5."}

    def to_python(self, value):
        """Read the number; never guess at one that has both marks."""
        if isinstance(value, str):
            value = clean_number(value)
            if value.count(",") + value.count(".") > 1:
                raise forms.ValidationError(self.error_messages["invalid"], code="invalid")
            value = value.replace(",", ".")
        return super().to_python(value)

    def prepare_value(self, value):
        """Show a number without the digits that binary fractions add."""
        return f"{value:.10g}" if isinstance(value, float) else value


class MinutesField(forms.CharField):
    """A time in minutes and seconds (``8:30``), kept as whole seconds; ``510 s`` is read, too.

    A bare number is refused: it could mean either.
    """

    widget = forms.TextInput(attrs={"autocomplete": "off", "placeholder": "8:30"})
    default_error_messages = {
        "invalid": "Write minutes and seconds with a colon, such as 8:30, or seconds as 510 s."
    }

    def to_python(self, value):
        """Return whole seconds, None for an empty field."""
        text = super().to_python(value)
        if text in self.empty_values:
            return None
        if found := MINUTES.fullmatch(text):
            return 60 * int(found[1]) + int(found[2])
        if found := SECONDS.fullmatch(text):
            return int(found[1])
        raise forms.ValidationError(self.error_messages["invalid"], code="invalid")

    def prepare_value(self, value):
        """Show whole seconds as minutes and seconds."""
        if isinstance(value, int):
            return f"{value // 60}:{value % 60:02d}"
        return value


def day_field(label: str, **more) -> forms.DateField:
    """Return a field for a day, shown and kept as 2026-11-25."""
    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    return forms.DateField(label=label, widget=widget, input_formats=["%Y-%m-%d"], **more)


def text_area(label: str, *, rows: int = 3, **more) -> forms.CharField:
    """Return a field for a few lines of text."""
    return forms.CharField(label=label, widget=forms.Textarea(attrs={"rows": rows}), **more)


def said_filters(fields) -> str:
    """Return in one line what is set of a filter bar's bound fields, for where they are folded away."""
    said = []
    for field in fields:
        value = field.value()
        choices = [(str(key), label) for key, label in getattr(field.field, "choices", ())]
        # The first choice is what holds where nothing was chosen.
        if value in (None, "", False) or (choices and str(value) == choices[0][0]):
            continue
        said.append(field.label if value is True else f"{field.label}: {dict(choices).get(value, value)}")
    return " · ".join(said)
