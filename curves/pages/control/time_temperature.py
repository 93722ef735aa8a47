"""Developing times at other temperatures, within the temperatures that were tested."""

import re

from django import forms
from django.shortcuts import render
from django.views.decorators.http import require_safe

from curves.models import ProcessRevision
from curves.pages.access import readers_only
from curves.pages.control.areas import PROCESS_AREA, control_tabs
from curves.pages.fields import DecimalField, MinutesField
from curves.sensitometry.developing.development_temperature import (
    DEFAULT_TESTED_C,
    fit_temperature_coefficient,
    time_at_temperature,
)
from curves.sensitometry.intervals import Z95
from curves.sensitometry.measures import Measure

MOST_TESTS, MOST_ROWS = 12, 40
BREAK = re.compile(r"[\s;]+")


class SameContrastField(forms.CharField):
    """Lines of a temperature and the time that gave the same contrast at it: ``18 10:30``."""

    widget = forms.Textarea(attrs={"rows": 4, "placeholder": "18 10:30"})

    def to_python(self, value) -> list[tuple[float, int]]:
        """Return (temperature in °C, time in s) a line."""
        lines = [line.strip() for line in (super().to_python(value) or "").splitlines() if line.strip()]
        if len(lines) > MOST_TESTS:
            raise forms.ValidationError(f"Give at most {MOST_TESTS} tests.")
        return [self._test(number, line) for number, line in enumerate(lines, start=1)]

    def _test(self, number: int, line: str) -> tuple[float, int]:
        try:
            temperature, time = BREAK.split(line)
            return DecimalField().clean(temperature), MinutesField().clean(time)
        except (ValueError, forms.ValidationError):
            wanted = "a temperature and a time, such as 18 10:30"
            raise forms.ValidationError(f"Line {number}: write {wanted}.") from None


class TimeTemperatureForm(forms.Form):
    """What is known: a time at a temperature, and how the rate changes."""

    time = MinutesField(label="Known time, min:s")
    known_at_c = DecimalField(label="at, °C", min_value=0, max_value=50)
    tests = SameContrastField(
        label="Tests with the same contrast",
        required=False,
        help_text="A temperature in °C and a time a line, of this developer and film. The coefficient is "
        "taken from them, and only temperatures between them are answered.",
    )
    coefficient = DecimalField(
        label="or temperature coefficient",
        required=False,
        min_value=1,
        max_value=10,
        help_text="How many times faster at ten degrees more. Films and developers differ, often 2 to 3.",
    )
    coefficient_sd = DecimalField(label="its standard error", required=False, min_value=0, max_value=5)
    low_c = DecimalField(label="tested from, °C", required=False, min_value=0, max_value=50)
    high_c = DecimalField(label="to, °C", required=False, min_value=0, max_value=50)

    def clean(self) -> dict:
        """Ask for one of the two ways to know the coefficient."""
        given = super().clean()
        if not self.errors and not given.get("tests") and given.get("coefficient") is None:
            self.add_error("tests", "Give at least two tests here, or a coefficient below.")
        return given


@require_safe
@readers_only
def time_temperature(request, standard_id: int, number: int):
    """Answer which time gives the same contrast at other temperatures."""
    revision = PROCESS_AREA.catalogue.revision(request.user, standard_id, number)
    form = TimeTemperatureForm(request.GET if "time" in request.GET else None, initial=_initial(revision))
    context = {
        "tabs": control_tabs(request.user, PROCESS_AREA.route["list"]),
        "revision": revision,
        "form": form,
        "back_url": PROCESS_AREA.revision_url(revision),
    }
    if form.is_bound and form.is_valid():
        context |= _answers(form.cleaned_data, revision)
    return render(request, "curves/control/time_temperature.html", context)


def _initial(revision: ProcessRevision) -> dict:
    low, high = DEFAULT_TESTED_C
    return {
        "time": revision.development_time_s,
        "known_at_c": revision.temperature_c,
        "low_c": low,
        "high_c": high,
    }


def _answers(given: dict, revision: ProcessRevision) -> dict:
    """The coefficient, and the time at every degree of the tested range."""
    tests = given["tests"]
    if tests:
        temperatures = [temperature for temperature, _ in tests]
        coefficient = fit_temperature_coefficient(temperatures, [seconds / 60 for _, seconds in tests])
        tested = min(temperatures), max(temperatures)
    else:
        error = given["coefficient_sd"]
        half = (None, None) if error is None else (-Z95 * error, Z95 * error)
        ends = [None if way is None else given["coefficient"] + way for way in half]
        coefficient = Measure("temperature_coefficient", given["coefficient"], *ends, "", None, "as stated")
        tested = (given["low_c"], given["high_c"])
        tested = tuple(
            usual if end is None else end for end, usual in zip(tested, DEFAULT_TESTED_C, strict=True)
        )
    if coefficient.value is None:
        return {"coefficient": coefficient}
    error = None if coefficient.low is None else (coefficient.high - coefficient.low) / (2 * Z95)
    rows = [
        (
            temperature,
            _time(given, coefficient.value, error, temperature, tested),
            _is_within(revision, temperature),
        )
        for temperature in _temperatures(tested, given["known_at_c"])
    ]
    return {"coefficient": coefficient, "tested": sorted(tested), "rows": rows, "has_tests": bool(tests)}


def _temperatures(tested, known_at_c: float) -> list[float]:
    """Whole degrees within the tested range, its ends, and the known temperature."""
    low, high = sorted(tested)
    whole = [float(degree) for degree in range(int(low), int(high) + 1) if low <= degree <= high]
    return sorted({low, high, known_at_c, *whole})[:MOST_ROWS]


def _time(given: dict, coefficient: float, error: float | None, temperature: float, tested) -> dict:
    answer = time_at_temperature(
        given["time"] / 60,
        temperature,
        coefficient,
        coefficient_sd=error,
        known_at_c=given["known_at_c"],
        tested_c=tuple(tested),
    )
    has_ends = answer.value is not None and answer.low is not None and answer.low < answer.high
    return {
        "measure": answer,
        "text": "" if answer.value is None else _minutes(answer.value),
        "ends": (_minutes(answer.low), _minutes(answer.high)) if has_ends else (),
    }


def _minutes(minutes: float) -> str:
    """Minutes and whole seconds."""
    seconds = round(60 * minutes)
    return f"{seconds // 60}:{seconds % 60:02d}"


def _is_within(revision: ProcessRevision, temperature: float) -> bool:
    return abs(temperature - revision.temperature_c) <= revision.temperature_tolerance_c
