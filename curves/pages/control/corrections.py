"""Corrections of instruments: previewed, brought into force from a day, listed in revisions, taken out."""

from django.contrib import messages
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from curves.pages.access import GET_OR_POST, admins_only, members_only
from curves.pages.control.agreement_forms import CorrectForm, StudyReasonForm
from curves.pages.control.agreement_views import proposal_row
from curves.pages.control.areas import control_tabs
from curves.pages.control.run_effects import effects_csv
from curves.pages.listing import is_export
from curves.queries.agreement import visible_study
from curves.queries.instrument_corrections import (
    correction_effects,
    instrument_corrections,
    visible_correction,
)
from curves.queries.instruments import visible_instrument
from curves.queries.study_results import chosen_reference, study_proposal, study_results
from curves.services.instrument_corrections import correct_by_study, take_out_of_force
from labsite.common.errors import InvalidInput


@GET_OR_POST
@admins_only
def correct(request, study_id: int, instrument_id: int):
    """Preview what a study's correction would change; then bring it into force from a day."""
    study = visible_study(request.user, study_id)
    results = study_results(study)
    given = request.POST if request.method == "POST" else request.GET
    proposal = study_proposal(results, chosen_reference(results, given.get("reference", "")), instrument_id)
    initial = {
        "applies_from_on": given.get("applies_from_on") or timezone.localdate(),
        "reference": proposal.reference.key,
        "reason": given.get("reason", ""),
        "seen": proposal.seen,
    }
    form = CorrectForm(initial=initial)
    if request.method == "POST":
        form = CorrectForm(request.POST)
        made = form.accepted(
            correct_by_study, actor=request.user, study_id=study_id, instrument_id=instrument_id
        )
        if made is not None:
            messages.success(request, f"{made} is in force; results that rest on its readings follow.")
            return redirect("correction", made.pk)
        if form.is_refused_as("stale"):
            form.data = form.data.copy()
            form.data["seen"] = proposal.seen
    context = {
        "tabs": control_tabs(request.user, "agreement_list"),
        "study": study,
        "instrument": proposal.instrument,
        "row": proposal_row(proposal),
        "proposal": proposal,
        "form": form,
        "effects": _previewed(request.user, proposal, form, given),
    }
    return render(request, "curves/control/correction_new.html", context, status=400 if form.errors else 200)


def _previewed(user, proposal, form, given):
    """What would change from the day that is in the form; None where that is no day."""
    if not proposal.correction.is_known:
        return None
    day = timezone.localdate()
    if given.get("applies_from_on"):
        asked = CorrectForm(given)
        asked.is_valid()
        day = asked.cleaned_data.get("applies_from_on")
        if day is None:
            form.errors.setdefault("applies_from_on", asked.errors.get("applies_from_on", []))
            return None
    try:
        return correction_effects(user, proposal.instrument, day, proposal.correction.tested)
    except InvalidInput as fault:
        form.errors.setdefault("applies_from_on", [fault.message])
        return None


@require_safe
@members_only
def correction_list(request, instrument_id: int):
    """List the revisions of an instrument's correction."""
    instrument = visible_instrument(request.user, instrument_id)
    context = {
        "tabs": control_tabs(request.user, "instrument_list"),
        "instrument": instrument,
        "rows": instrument_corrections(request.user, instrument),
    }
    return render(request, "curves/control/correction_list.html", context)


@require_safe
@members_only
def correction(request, correction_id: int):
    """Show one revision with what follows from it."""
    if is_export(request):
        listed = visible_correction(request.user, correction_id)
        return effects_csv(f"correction-{correction_id}-effects.csv", _effects(request, listed).resting)
    return _correction_page(request, correction_id, StudyReasonForm())


@GET_OR_POST
@admins_only
def end(request, correction_id: int):
    """Take a revision out of force."""
    form = StudyReasonForm(request.POST or None)
    if request.method == "POST":
        ended = form.accepted(take_out_of_force, actor=request.user, correction_id=correction_id)
        if ended is not None:
            messages.success(request, f"{ended} is out of force; results that rested on it follow.")
            return redirect("correction", correction_id)
        return _correction_page(request, correction_id, form, status=400)
    return _correction_page(request, correction_id, form)


def _correction_page(request, correction_id: int, form, *, status: int = 200):
    listed = visible_correction(request.user, correction_id)
    rows = instrument_corrections(request.user, listed.correction.instrument)
    older = [
        each
        for each in rows
        if each.correction.is_standing and each.correction.number < listed.correction.number
    ]
    context = {
        "tabs": control_tabs(request.user, "instrument_list"),
        "listed": listed,
        "correction": listed.correction,
        "detail": listed.correction.basis_detail,
        "effects": _effects(request, listed),
        "falls_back_to": older[0].correction if older else None,
        "form": form,
    }
    return render(request, "curves/control/correction.html", context, status=status)


def _effects(request, listed):
    made = listed.correction
    return correction_effects(
        request.user, made.instrument, made.applies_from_on, (made.tested_low, made.tested_high)
    )
