"""Densities of a scan taken into its roll: looked at step by step first, then stored."""

from django.contrib import messages
from django.shortcuts import redirect, render

from curves.pages.access import GET_OR_POST, members_only
from labsite.common.errors import InvalidInput, WrongState
from scans.pages.measuring.forms import TakeForm
from scans.queries.scan_list import visible_scan
from scans.queries.taking import taking_preview
from scans.services.taking import take_densities


@GET_OR_POST
@members_only
def take(request, scan_id: int):
    """Show what would be stored, and store it when that was confirmed."""
    scan = visible_scan(request.user, scan_id)
    try:
        shown = taking_preview(request.user, scan_id)
    except WrongState as refusal:
        context = {"scan": scan, "refusal": refusal.message}
        return render(request, "scans/measuring/take.html", context, status=409)
    initial = {"measurement_id": shown.measurement.pk, "version": shown.grid.version}
    form = TakeForm(request.POST if request.method == "POST" else None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            take_densities(actor=request.user, scan_id=scan_id, **form.cleaned_data)
        except (InvalidInput, WrongState) as fault:
            # What is shown now is what stands now, so the form starts from it anew.
            form = TakeForm(initial=initial)
            context = {"scan": scan, "shown": shown, "form": form, "fault": fault}
            return render(request, "scans/measuring/take.html", context, status=409)
        count = len(shown.taken)
        messages.success(request, f"{count} densities of {scan.code} stand as readings of {shown.roll.code}.")
        return redirect("roll", shown.roll.pk)
    status = 400 if form.is_bound and form.errors else 200
    return render(
        request, "scans/measuring/take.html", {"scan": scan, "shown": shown, "form": form}, status=status
    )
