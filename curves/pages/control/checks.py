"""Checks of an instrument: its state and chart, entering a check by keyboard, striking one out."""

import re
from urllib.parse import urlencode

from django import forms
from django.contrib import messages
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from curves.figures.instrument_checks import check_figure
from curves.models import Instrument
from curves.pages.access import GET_OR_POST, admins_only, members_only
from curves.pages.control.areas import control_tabs
from curves.pages.fields import DecimalField, day_field
from curves.pages.listing import csv_file, export_url, is_export
from curves.queries.instrument_checks import (
    CheckPage,
    CheckState,
    check_page,
    check_to_strike,
    tablets_to_check_on,
)
from curves.services.instrument_checks import NOTHING, plan_checks, record_check, strike_check
from labsite.accounts.pages.forms import LabForm, ReasonForm

ROWS = ("zero", "mid", "high")
QUANTITY_TITLES = {
    "zero": "Zero",
    "mid": "Middle",
    "high": "High",
    "span": "Span: high less zero",
    "bend": "Linearity: middle off the line",
}


class CheckForm(LabForm):
    """Which tablet, and what was read on which of its steps."""

    tablet_revision_id = forms.TypedChoiceField(label="Tablet", coerce=int)
    density_type = forms.ChoiceField(
        label="Certified as",
        choices=Instrument.DensityType.choices,
        help_text="What the certificate states; it must be what the instrument reads.",
    )
    geometry = forms.ChoiceField(label="Geometry", choices=Instrument.Geometry.choices)
    checked_on = day_field("Day")
    zero_step = forms.IntegerField(label="Zero: step", min_value=0, help_text="0: nothing in the beam.")
    zero_density = DecimalField(label="read, D")
    mid_step = forms.IntegerField(label="Middle: step", min_value=1)
    mid_density = DecimalField(label="read, D")
    high_step = forms.IntegerField(label="High: step", min_value=1)
    high_density = DecimalField(label="read, D")
    more = forms.CharField(
        label="Further steps",
        required=False,
        max_length=600,
        help_text="Step and density, such as 4 0.51; 14 2.03. They are kept and shown with their deviations.",
    )
    notes = forms.CharField(label="Notes", required=False, max_length=300)

    def __init__(self, *args, tablets, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["tablet_revision_id"].choices = [
            ("", "Choose a tablet"),
            *((each.pk, f"{each} of {each.calibrated_on:%Y-%m-%d}") for each in tablets),
        ]

    def clean_more(self) -> list[tuple[int, float]]:
        """Return (step, density) pairs."""
        pairs = []
        for part in filter(None, (part.strip() for part in self.cleaned_data["more"].split(";"))):
            found = re.fullmatch(r"(\d{1,3})\s+(-?\d{1,2}(?:[.,]\d{1,4})?)", part.replace("−", "-"))
            if found is None:
                raise forms.ValidationError(f"“{part}” is no step with its density, such as 4 0.51.")
            pairs.append((int(found[1]), float(found[2].replace(",", "."))))
        return pairs

    def clean(self) -> dict:
        """Return the readings as the service takes them."""
        given = super().clean()
        readings = [
            (given.pop(f"{row}_step"), given.pop(f"{row}_density"))
            for row in ROWS
            if given.get(f"{row}_step") is not None and given.get(f"{row}_density") is not None
        ]
        return given | {"readings": [*readings, *given.pop("more", [])]}

    @property
    def rows(self) -> list[tuple]:
        """Step and density of each of the three."""
        return [(self[f"{row}_step"], self[f"{row}_density"]) for row in ROWS]


class PlanForm(LabForm):
    """After how many days it is due."""

    every_days = forms.IntegerField(
        label="Due after, days", required=False, help_text="Empty: not checked regularly."
    )


@require_safe
@members_only
def checks(request, instrument_id: int):
    """Show how an instrument stands by its checks."""
    shown = check_page(request.user, instrument_id)
    if is_export(request):
        return _csv(shown)
    return _check_page(request, shown)


@require_POST
@admins_only
def plan(request, instrument_id: int):
    """Say after how many days it is due."""
    form = PlanForm(request.POST)
    if form.accepted(plan_checks, actor=request.user, instrument_id=instrument_id) is None:
        return _check_page(request, check_page(request.user, instrument_id), plan_form=form, status=400)
    messages.success(request, "Saved.")
    return redirect("instrument_checks", instrument_id)


@GET_OR_POST
@members_only
def new_check(request, instrument_id: int):
    """Enter a check; the answer says at once what it finds."""
    shown = check_page(request.user, instrument_id)
    tablets = list(tablets_to_check_on())
    form = CheckForm(request.POST or None, tablets=tablets, initial=_initial(shown.state, tablets))
    if request.method == "POST":
        check = form.accepted(record_check, actor=request.user, instrument_id=instrument_id)
        if check is not None:
            _say(request, check_page(request.user, instrument_id).state)
            return redirect("instrument_checks", instrument_id)
    context = {
        "tabs": control_tabs(request.user, "instrument_list"),
        "instrument": shown.state.instrument,
        "form": form,
        "tablets": tablets,
    }
    return render(request, "curves/control/check_form.html", context, status=400 if form.errors else 200)


@GET_OR_POST
@members_only
def strike(request, check_id: int):
    """Ask what was wrong with a check; then strike it out."""
    check = check_to_strike(request.user, check_id)
    form = ReasonForm(request.POST or None)
    if request.method == "POST" and form.accepted(strike_check, actor=request.user, check_id=check_id):
        messages.success(request, "The check is struck out; it counts for nothing.")
        return redirect("instrument_checks", check.instrument_id)
    context = {"tabs": control_tabs(request.user, "instrument_list"), "check": check, "form": form}
    return render(request, "curves/control/check_strike.html", context, status=400 if form.errors else 200)


def _check_page(request, shown: CheckPage, *, plan_form=None, status: int = 200):
    state = shown.state
    figure = None
    if len(state.checks) > 1:
        figure = check_figure(state.trend, [f"{check.checked_on:%Y-%m-%d}" for check in state.checks])
    quantities = state.trend.quantities.items() if state.trend else ()
    context = {
        "tabs": control_tabs(request.user, "instrument_list"),
        "instrument": state.instrument,
        "state": state,
        "shown": shown,
        "figure": figure,
        "quantities": [(QUANTITY_TITLES[name], each) for name, each in quantities],
        "rows": _rows(state),
        "finding_url": _finding_url(state),
        "plan_form": plan_form or PlanForm(initial={"every_days": state.instrument.check_every_days}),
        "export_url": export_url(request),
    }
    return render(request, "curves/control/instrument_checks.html", context, status=status)


def _rows(state: CheckState) -> list[dict]:
    """The checks of the series, newest first, each with what it was off by."""
    rows = []
    for place, check in enumerate(state.checks):
        found = state.trend.quantities
        deviations = [found[name].deviations[place] for name in QUANTITY_TITLES]
        more = [
            (reading["step"], reading["density"] - reading["certified"])
            for reading in check.readings
            if not reading["level"]
        ]
        rows.append({"check": check, "deviations": deviations, "more": more})
    return rows[::-1]


def _finding_url(state: CheckState) -> str:
    """The form of a finding with its days filled in: since the last good check."""
    if state.doubted_from is None:
        return ""
    reason = f"Check of {state.last.checked_on:%Y-%m-%d}: {' '.join(state.findings)}"
    days = {"first_on": state.doubted_from.isoformat(), "last_on": state.last.checked_on.isoformat()}
    query = urlencode(days | {"reason": reason[:300]})
    return f"{reverse('finding_new', args=[state.instrument.pk])}?{query}"


def _initial(state: CheckState, tablets: list) -> dict:
    """As in the last check; else the first, the middle and the last step of the only tablet."""
    instrument = state.instrument
    found = {
        "density_type": instrument.density_type,
        "geometry": instrument.geometry,
        "checked_on": timezone.localdate(),
    }
    if state.last is not None:
        in_force = (each for each in tablets if each.tablet_id == state.last.tablet_revision.tablet_id)
        tablet = next(in_force, None)
        steps = [reading["step"] for reading in state.last.by_level.values()]
    else:
        tablet = tablets[0] if len(tablets) == 1 else None
        known = [step.step for step in tablet.steps.all()] if tablet else []
        steps = [NOTHING, known[len(known) // 2], known[-1]] if known else []
    if tablet is not None:
        found["tablet_revision_id"] = tablet.pk
    return found | {f"{row}_step": step for row, step in zip(ROWS, steps, strict=False)}


def _say(request, state: CheckState) -> None:
    if state.findings:
        messages.warning(request, f"The check is kept. {' '.join(state.findings)}")
    else:
        messages.success(request, f"The check is kept: {state.instrument} is in order.")


def _csv(shown: CheckPage):
    checks = (*shown.state.checks, *shown.state.others, *shown.struck)
    rows = [(check, reading) for check in checks for reading in check.readings]
    columns = [
        ("check", lambda row: row[0].pk),
        ("day", lambda row: f"{row[0].checked_on:%Y-%m-%d}"),
        ("by", lambda row: str(row[0].checked_by)),
        ("tablet", lambda row: str(row[0].tablet_revision)),
        ("density type", lambda row: row[0].get_density_type_display()),
        ("geometry", lambda row: row[0].get_geometry_display()),
        ("level", lambda row: row[1]["level"]),
        ("step", lambda row: row[1]["step"]),
        ("read [D]", lambda row: row[1]["density"]),
        ("certified [D]", lambda row: row[1]["certified"]),
        ("certified uncertainty [D]", lambda row: row[1]["certified_sd"]),
        ("struck out", lambda row: row[0].ended_reason),
    ]
    return csv_file(f"instrument-{shown.state.instrument.pk}-checks.csv", rows, columns)
