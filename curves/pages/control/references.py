"""The house reference: which stock it is for each pair of standards, and appointing another."""

from django import forms
from django.contrib import messages
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST, require_safe

from curves.pages.access import admins_only, readers_only
from curves.pages.control.areas import control_tabs
from curves.pages.fields import text_area
from curves.pages.listing import csv_file, is_export
from curves.queries.references import reference_page, reference_pairs
from curves.services.references import appoint_reference
from labsite.accounts.pages.forms import LabForm


class AppointForm(LabForm):
    """Which stock shall be the reference, and why."""

    stock_id = forms.TypedChoiceField(label="Stock", coerce=int)
    reason = text_area("Why this stock", rows=2, required=False)

    def __init__(self, *args, candidates, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["stock_id"].choices = [
            ("", "Choose a stock"),
            *((result.stock_id, _described(result)) for result in candidates),
        ]


@require_safe
@readers_only
def reference_list(request):
    """List the pairs of standards with their reference."""
    pairs = reference_pairs(request.user)
    if is_export(request):
        columns = [
            ("process standard", lambda pair: str(pair.process)),
            ("exposure standard", lambda pair: str(pair.exposure)),
            ("house reference", lambda pair: str(pair.standing.stock) if pair.standing else ""),
            ("since", lambda pair: f"{pair.standing.appointed_at:%Y-%m-%d}" if pair.standing else ""),
            ("stocks with a result", lambda pair: pair.stock_count),
        ]
        return csv_file("house-references.csv", pairs, columns)
    context = {"tabs": control_tabs(request.user, "reference_list"), "pairs": pairs}
    return render(request, "curves/control/reference_list.html", context)


@require_safe
@readers_only
def reference(request, process_revision_id: int, exposure_revision_id: int):
    """Show the reference of one pair with its history and, for admins, the form that appoints another."""
    return _pair_page(request, process_revision_id, exposure_revision_id)


@require_POST
@admins_only
def appoint(request, process_revision_id: int, exposure_revision_id: int):
    """Appoint another stock."""
    shown = reference_page(request.user, process_revision_id, exposure_revision_id)
    form = AppointForm(request.POST, candidates=shown.candidates)
    appointed = form.accepted(
        appoint_reference,
        actor=request.user,
        process_revision_id=process_revision_id,
        exposure_revision_id=exposure_revision_id,
    )
    if appointed is None:
        return _pair_page(request, process_revision_id, exposure_revision_id, form=form, status=400)
    messages.success(request, f"{appointed.stock} is the house reference now.")
    return redirect("reference", process_revision_id, exposure_revision_id)


def _pair_page(request, process_revision_id, exposure_revision_id, *, form=None, status: int = 200):
    shown = reference_page(request.user, process_revision_id, exposure_revision_id)
    context = {
        "tabs": control_tabs(request.user, "reference_list"),
        "shown": shown,
        "form": form or AppointForm(candidates=shown.candidates),
    }
    return render(request, "curves/control/reference.html", context, status=status)


def _described(result) -> str:
    count = result.pooled.rolls_in_words
    return f"{result.stock} ({count} accepted roll{'' if count == '1' else 's'})"
