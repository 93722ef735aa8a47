"""Instruments: the list, one instrument, and for admins adding, editing and retiring."""

from django import forms
from django.contrib import messages
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST, require_safe

from curves.models import Instrument
from curves.pages.access import GET_OR_POST, admins_only, members_only
from curves.pages.control.areas import control_tabs
from curves.pages.fields import DecimalField, text_area
from curves.pages.listing import csv_file, export_url, is_export, kept_parameters, page_of, sorted_rows
from curves.queries.instrument_checks import check_states
from curves.queries.instrument_corrections import correction_words
from curves.queries.instruments import visible_instrument, visible_instruments
from curves.queries.revisions import number_text
from curves.services.instruments import (
    add_instrument,
    edit_instrument,
    reactivate_instrument,
    retire_instrument,
)
from labsite.accounts.pages.forms import LabForm, ReasonForm

SORT_KEYS = {"name": "name", "kind": "kind", "sd": "reading_sd", "read": "last_read_at"}


class InstrumentFilterForm(forms.Form):
    """Which instruments are wanted."""

    q = forms.CharField(label="Name", required=False)
    kind = forms.ChoiceField(label="Kind", required=False, choices=[("", "any"), *Instrument.Kind.choices])
    state = forms.ChoiceField(
        label="State", required=False, choices=[("", "any"), ("active", "in use"), ("retired", "retired")]
    )

    def filtered(self, instruments):
        """Return the instruments that are wanted."""
        if not self.is_valid():
            return instruments.none()
        wanted = self.cleaned_data
        instruments = instruments.filter(name__icontains=wanted["q"])
        if wanted["kind"]:
            instruments = instruments.filter(kind=wanted["kind"])
        if wanted["state"]:
            instruments = instruments.filter(is_active=wanted["state"] == "active")
        return instruments


class InstrumentForm(LabForm):
    """What a densitometer or scanner reads, and how well."""

    name = forms.CharField(label="Name", max_length=80)
    kind = forms.ChoiceField(label="Kind", choices=Instrument.Kind.choices)
    density_type = forms.ChoiceField(
        label="Density type",
        choices=Instrument.DensityType.choices,
        help_text="Densities of different types are different quantities (ISO 5-3); one curve holds one.",
    )
    geometry = forms.ChoiceField(
        label="Geometry",
        choices=Instrument.Geometry.choices,
        help_text="Diffuse and projection densities differ, the more the coarser the grain (ISO 5-2).",
    )
    aperture_mm = DecimalField(label="Aperture, mm", required=False)
    reading_sd = DecimalField(
        label="Spread of repeated readings, density",
        required=False,
        help_text="Standard deviation, such as 0.01. Leave it empty where it is not known.",
    )
    notes = text_area("Notes", required=False)


@require_safe
@members_only
def instrument_list(request):
    """List the instruments."""
    form = InstrumentFilterForm(request.GET)
    rows = sorted_rows(request, form.filtered(visible_instruments(request.user)), SORT_KEYS, default="name")
    if is_export(request):
        states = check_states(rows)
        columns = [
            ("instrument", lambda row: row.name),
            ("kind", lambda row: row.get_kind_display()),
            ("density type", lambda row: row.get_density_type_display()),
            ("geometry", lambda row: row.get_geometry_display()),
            ("aperture_mm", lambda row: row.aperture_mm),
            ("reading_sd (density)", lambda row: row.reading_sd),
            ("state", lambda row: "in use" if row.is_active else "retired"),
            ("readings", lambda row: row.reading_count),
            ("check", lambda row: states[row.pk].words),
            ("check due", lambda row: states[row.pk].due_on),
        ]
        return csv_file("instruments.csv", rows, columns)
    page = page_of(request, rows)
    states = check_states(page)
    context = {
        "tabs": control_tabs(request.user, "instrument_list"),
        "form": form,
        "page": page,
        "rows": [(instrument, states[instrument.pk]) for instrument in page],
        "export_url": export_url(request),
        "keep": kept_parameters(request, "sort"),
    }
    return render(request, "curves/control/instrument_list.html", context)


@require_safe
@members_only
def instrument_page(request, instrument_id: int):
    """Show one instrument."""
    instrument = visible_instrument(request.user, instrument_id)
    facts = [
        ("Kind", instrument.get_kind_display()),
        ("Density type", instrument.get_density_type_display()),
        ("Geometry", instrument.get_geometry_display()),
        ("Aperture", number_text(instrument.aperture_mm, "mm")),
        ("Spread of repeated readings", number_text(instrument.reading_sd, "density (standard deviation)")),
        ("Readings made with it", instrument.reading_count),
        ("Its readings enter a fit", correction_words(instrument)),
        ("Notes", instrument.notes),
    ]
    context = {
        "tabs": control_tabs(request.user, "instrument_list"),
        "instrument": instrument,
        "facts": facts,
        "state": check_states([instrument])[instrument.pk],
    }
    return render(request, "curves/control/instrument.html", context)


@GET_OR_POST
@admins_only
def new_instrument(request):
    """Add an instrument."""
    form = InstrumentForm(request.POST or None)
    if request.method == "POST":
        added = form.accepted(add_instrument, actor=request.user)
        if added is not None:
            messages.success(request, f"{added} is added; readings can name it now.")
            return redirect("instrument", added.pk)
    return _form_page(request, form, title="New instrument", save="Add")


@GET_OR_POST
@admins_only
def edit_instrument_page(request, instrument_id: int):
    """Describe an instrument anew."""
    instrument = visible_instrument(request.user, instrument_id)
    initial = {name: getattr(instrument, name) for name in InstrumentForm.base_fields}
    form = InstrumentForm(request.POST or None, initial=initial)
    if request.method == "POST":
        saved = form.accepted(edit_instrument, actor=request.user, instrument_id=instrument_id)
        if saved is not None:
            messages.success(request, f"{saved} is saved.")
            return redirect("instrument", saved.pk)
    return _form_page(request, form, title=f"Edit {instrument}", save="Save", instrument=instrument)


@GET_OR_POST
@admins_only
def retire(request, instrument_id: int):
    """Ask whether an instrument should be retired, and why; then retire it."""
    instrument = visible_instrument(request.user, instrument_id)
    form = ReasonForm(request.POST or None)
    if request.method == "POST":
        retired = form.accepted(retire_instrument, actor=request.user, instrument_id=instrument_id)
        if retired is not None:
            messages.success(request, f"{retired} is retired. Its readings stay.")
            return redirect("instrument", instrument_id)
    return _form_page(request, form, title=f"Retire {instrument}", save="Retire", instrument=instrument)


@require_POST
@admins_only
def reactivate(request, instrument_id: int):
    """Take a retired instrument into use again."""
    instrument = reactivate_instrument(actor=request.user, instrument_id=instrument_id)
    messages.success(request, f"{instrument} is in use again.")
    return redirect("instrument", instrument_id)


def _form_page(request, form, *, title: str, save: str, instrument=None):
    context = {
        "tabs": control_tabs(request.user, "instrument_list"),
        "form": form,
        "title": title,
        "save": save,
        "instrument": instrument,
    }
    status = 400 if form.is_bound and form.errors else 200
    return render(request, "curves/control/instrument_form.html", context, status=status)
