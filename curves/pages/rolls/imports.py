"""A file of readings: chosen, looked at, and only then stored or dropped."""

from django.contrib import messages
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from curves.importers import MAX_BYTES
from curves.pages.access import GET_OR_POST, members_only, posted_from
from curves.pages.rolls.forms import ImportForm
from curves.pages.rolls.readings import draft_key
from curves.queries.imports import import_preview
from curves.queries.readings import editable_grid, usual_instrument_id
from curves.services.imports import commit_staged_readings, discard_staged_readings, stage_readings_file
from labsite.common.errors import InvalidInput, WrongState

#: A page lists so many faults; a file with more has one fault many times over.
SHOWN_FAULTS = 500


@GET_OR_POST
@members_only
def upload(request, roll_id: int, strip_number: int):
    """Choose a file; its faults are all told at once, or else its preview follows."""
    grid = editable_grid(request.user, roll_id, strip_number)
    faults: tuple[dict, ...] = ()
    if request.method == "POST":
        form = ImportForm(request.POST, request.FILES)
        if form.is_valid():
            try:
                staged = _staged(request, grid, form)
            except InvalidInput as fault:
                faults = fault.problems
                form.add_error(fault.field if fault.field in form.fields else None, fault.message)
            else:
                return redirect("import", staged.pk)
    else:
        instrument_id = grid.instrument.pk if grid.instrument else usual_instrument_id(request.user)
        form = ImportForm(initial={"instrument_id": instrument_id})
    context = {
        "roll": grid.roll,
        "strip": grid.strip,
        "grid": grid,
        "form": form,
        "faults": faults[:SHOWN_FAULTS],
        "hidden_faults": max(len(faults) - SHOWN_FAULTS, 0),
    }
    status = 400 if form.is_bound and form.errors else 200
    return render(request, "curves/rolls/import.html", context, status=status)


@require_safe
@members_only
def preview(request, staged_id: int):
    """Show what the file says and what storing it would change."""
    shown = import_preview(request.user, staged_id)
    return render(request, "curves/rolls/preview.html", {"shown": shown, "roll": shown.grid.roll})


@posted_from("import")
@members_only
def store(request, staged_id: int):
    """Store the previewed readings as a whole."""
    shown = import_preview(request.user, staged_id)
    version = request.POST.get("version", "")
    try:
        job = commit_staged_readings(actor=request.user, staged_id=staged_id, version=version)
    except WrongState as fault:
        text = fault.message if fault.code != "stale" else "The strip's readings have changed meanwhile."
        messages.error(request, f"{text} Look at the preview again.")
        return redirect("import", staged_id)
    text = f"The readings of {shown.staged.filename} are stored."
    if job is None:
        text = f"{shown.staged.filename} says what stood there already; no reading was changed."
    messages.success(request, text, extra_tags=draft_key(shown.staged.strip))
    return redirect("roll", shown.grid.roll.pk)


@posted_from("import")
@members_only
def discard(request, staged_id: int):
    """Drop the preview; nothing of the file is kept."""
    shown = import_preview(request.user, staged_id)
    discard_staged_readings(actor=request.user, staged_id=staged_id)
    messages.success(request, f"{shown.staged.filename} is discarded; nothing of it was stored.")
    return redirect("roll", shown.grid.roll.pk)


def _staged(request, grid, form: ImportForm):
    file = form.cleaned_data["file"]
    # One byte more than is accepted: enough to be told that it is too large, whatever it weighs.
    data = file.read(MAX_BYTES + 1)
    return stage_readings_file(
        actor=request.user,
        strip_id=grid.strip.pk,
        filename=file.name,
        data=data,
        instrument_id=form.cleaned_data["instrument_id"],
    )
