"""Scanners as instruments: the list of their set-ups, one calibration with what rests on it, trials."""

from django.contrib import messages
from django.http import JsonResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from curves.pages.access import GET_OR_POST, admins_only, members_only
from curves.pages.control.areas import control_tabs
from labsite.common.errors import LabError
from scans.figures.response import drift_figure, residual_figure, response_figure, shift_figure
from scans.pages.measuring.forms import TrialForm, VoidForm
from scans.queries.scanners import calibration_page, portable_calibration, scanner_rows
from scans.queries.trials import visible_trials
from scans.services.trials import try_scanner
from scans.services.voiding import void_calibration

HERE = "scanner_list"


@require_safe
@members_only
def scanner_list(request):
    """List the scanners with their set-ups and how old each calibration is."""
    context = {
        "tabs": control_tabs(request.user, HERE),
        "rows": scanner_rows(request.user),
        "trials": visible_trials(request.user),
    }
    return render(request, "scans/measuring/scanners.html", context)


@require_safe
@members_only
def calibration(request, calibration_id: int):
    """Show one calibration: response, residuals, drift, and what rests on it."""
    return _calibration_page(request, calibration_id)


@require_safe
@members_only
def download(request, calibration_id: int):
    """Send a calibration as the file that ``measure_scan --calibration`` reads."""
    shown = calibration_page(request.user, calibration_id)
    answer = JsonResponse(portable_calibration(shown.row), json_dumps_params={"indent": 1})
    name = f"scanner-calibration-{shown.row.pk}.json"
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer


@GET_OR_POST
@admins_only
def void(request, calibration_id: int):
    """Void a calibration, with the reason that everybody will read."""
    shown = calibration_page(request.user, calibration_id)
    form = VoidForm(request.POST if request.method == "POST" else None)
    if request.method == "POST":
        voided = form.accepted(void_calibration, actor=request.user, calibration_id=calibration_id)
        if voided is not None:
            messages.success(request, "The calibration is void; what rested on it is measured anew.")
            return redirect("calibration", calibration_id)
    status = 400 if form.is_bound and form.errors else 200
    context = {"tabs": control_tabs(request.user, HERE), "shown": shown, "form": form}
    return render(request, "scans/measuring/void.html", context, status=status)


@GET_OR_POST
@members_only
def new_trial(request):
    """Try a scanner for what it adds itself."""
    form = TrialForm(request.POST if request.method == "POST" else None, user=request.user)
    if request.method == "POST" and form.is_valid():
        try:
            job = try_scanner(actor=request.user, edge_id=form.cleaned_data["edge_id"], repeats=form.repeats)
        except LabError as fault:
            field = fault.field if fault.field in form.fields else None
            form.add_error(field, fault.message)
        else:
            messages.success(request, "The trial is under way.")
            return redirect(job.get_absolute_url())
    status = 400 if form.is_bound and form.errors else 200
    context = {"tabs": control_tabs(request.user, HERE), "form": form}
    return render(request, "scans/measuring/trial_form.html", context, status=status)


def _calibration_page(request, calibration_id: int):
    shown = calibration_page(request.user, calibration_id)
    document, drift = shown.row.document, shown.row.drift
    has_shift = bool(drift.get("shift"))
    shifts = list(zip(drift["density"], drift["shift"], strict=True)) if has_shift else []
    context = {
        "tabs": control_tabs(request.user, HERE),
        "shown": shown,
        "row": shown.row,
        "response": response_figure(document),
        "residuals": residual_figure(document),
        "shift": shift_figure(drift) if has_shift else None,
        "shifts": shifts,
        "drift": drift_figure(shown.drifts) if len(shown.drifts) > 1 else None,
    }
    return render(request, "scans/measuring/calibration.html", context)
