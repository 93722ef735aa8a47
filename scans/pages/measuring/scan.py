"""One scan: the picture with its areas, its numbers, and what can be done with them."""

from django.contrib import messages
from django.http import JsonResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from curves.pages.access import members_only, posted_from
from labsite.accounts.pages.outcomes import done_or_told
from labsite.common.access import is_admin
from labsite.common.errors import LabError
from scans.models import MeasurementKind
from scans.pages.measuring.drawing import edge_shown, grain_shown
from scans.pages.measuring.forms import CalibrateForm, OutlineForm, UnexposedForm
from scans.queries.scan_list import scan_facts, visible_scan
from scans.queries.scan_page import scan_page
from scans.services.calibrating import calibrate_scanner
from scans.services.measuring import measure_again
from scans.services.placing import place_areas, place_unexposed, turn_strip_over
from scans.services.taking_pictures import take_picture
from scans.services.viewing import renew_missing_tiles


@require_safe
@members_only
def scan(request, scan_id: int):
    """Show one scan."""
    return _page(request, scan_id)


@require_safe
@members_only
def document(request, scan_id: int):
    """Send the measurement that stands, as it is kept."""
    shown = scan_page(request.user, scan_id)
    answer = JsonResponse(shown.document, json_dumps_params={"indent": 1})
    answer["Content-Disposition"] = f'attachment; filename="{shown.scan.code}.json"'
    return answer


@posted_from("scan")
@members_only
def place(request, scan_id: int):
    """Set the areas by the four corners of an outline."""
    visible_scan(request.user, scan_id)
    form = OutlineForm(request.POST)
    if form.accepted(place_areas, actor=request.user, scan_id=scan_id) is None:
        return _page(request, scan_id, outline_form=form, status=400)
    messages.success(request, "The areas are placed; the scan is measured anew.")
    return redirect("scan", scan_id)


@posted_from("scan")
@members_only
def unexposed(request, scan_id: int):
    """Say where film got no light."""
    visible_scan(request.user, scan_id)
    form = UnexposedForm(request.POST)
    if form.is_valid():
        try:
            place_unexposed(actor=request.user, scan_id=scan_id, corners=form.corners)
        except LabError as fault:
            form.add_error(None, fault.message)
        else:
            messages.success(request, "The unexposed area is placed; the scan is measured anew.")
            return redirect("scan", scan_id)
    return _page(request, scan_id, unexposed_form=form, status=400)


@posted_from("scan")
@members_only
def turn_over(request, scan_id: int):
    """Number the steps from the other end."""
    visible_scan(request.user, scan_id)
    return _done(request, scan_id, turn_strip_over, "The strip is turned over; the scan is measured anew.")


@posted_from("scan")
@members_only
def measure(request, scan_id: int):
    """Measure the scan again, with the areas as they stand or found anew."""
    visible_scan(request.user, scan_id)
    is_found_anew = request.POST.get("areas") == "anew"
    done = "The lab looks for the areas anew." if is_found_anew else "The scan is measured again."
    return _done(request, scan_id, measure_again, done, is_found_anew=is_found_anew)


@posted_from("scan")
@members_only
def take_measure(request, scan_id: int):
    """Let the scan's grain or sharpness stand for its roll."""
    visible_scan(request.user, scan_id)
    return _done(request, scan_id, take_picture, "It stands for the roll now.")


@posted_from("scan")
@members_only
def calibrate(request, scan_id: int):
    """Calibrate the scanner from this scan."""
    visible_scan(request.user, scan_id)
    form = CalibrateForm(request.POST)
    if form.accepted(calibrate_scanner, actor=request.user, scan_id=scan_id) is None:
        return _page(request, scan_id, calibrate_form=form, status=400)
    messages.success(request, "The scanner is being calibrated from this scan.")
    return redirect("scan", scan_id)


def _done(request, scan_id: int, service, done: str, **arguments):
    return done_or_told(request, redirect("scan", scan_id), service, done, scan_id=scan_id, **arguments)


def _page(
    request, scan_id: int, *, outline_form=None, unexposed_form=None, calibrate_form=None, status: int = 200
):
    shown = scan_page(request.user, scan_id)
    if shown.source and not shown.source["preview_url"]:
        renew_missing_tiles(scan_id=scan_id)
    kind = shown.measurement.kind if shown.measurement else ""
    if outline_form is not None and shown.source:
        shown.source["outline_text"] = request.POST.get("outline", "")
        shown.source["darkens"] = request.POST.get("darkens", "")
    context = {
        "shown": shown,
        "scan": shown.scan,
        "may_change": shown.scan.member_id == request.user.pk or is_admin(request.user),
        "facts": scan_facts(shown.scan),
        "grain": grain_shown(shown.document) if kind == MeasurementKind.GRAIN else None,
        "edge": edge_shown(shown.document) if kind == MeasurementKind.EDGE else None,
        "outline_errors": _all_errors(outline_form),
        "unexposed_form": unexposed_form or UnexposedForm(),
        "calibrate_form": calibrate_form or CalibrateForm(),
        "is_waiting": any(not job.is_ended for job in shown.jobs),
    }
    return render(request, "scans/measuring/scan.html", context, status=status)


def _all_errors(form) -> list[str]:
    if form is None:
        return []
    return [error for errors in form.errors.values() for error in errors]
