"""A file of patch densities: chosen, looked at, and only then stored or dropped; and one to fill in."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from curves.importers import MAX_BYTES, write_patches_csv
from curves.importers.patch_rows import LIGHTS
from curves.pages.access import GET_OR_POST, members_only, posted_from
from curves.pages.printing.patch_forms import PatchFileForm
from curves.queries.colour_response import light_series
from curves.queries.patch_files import empty_patch_rows, patch_file_preview, standing_patch_rows
from curves.queries.patches import RollPatches, roll_patches
from curves.queries.readings import usual_instrument_id
from curves.queries.rolls import own_editable_roll
from curves.services.patch_files import commit_staged_patches, discard_staged_patches, stage_patch_file
from labsite.common.errors import InvalidInput, NotFound, WrongState

#: A page lists so many faults; a file with more has one fault many times over.
SHOWN_FAULTS = 500


@GET_OR_POST
@members_only
def upload(request, roll_id: int):
    """Choose a file; its faults are all told at once, or else its preview follows."""
    own_editable_roll(request.user, roll_id)
    read = _with_target(request, roll_id)
    faults: tuple[dict, ...] = ()
    if request.method == "POST":
        form = PatchFileForm(request.POST, request.FILES)
        if form.is_valid():
            try:
                staged = _staged(request, roll_id, form)
            except InvalidInput as fault:
                faults = fault.problems
                form.add_error(fault.field if fault.field in form.fields else None, fault.message)
            else:
                return redirect("patch_file", staged.pk)
    else:
        form = PatchFileForm(initial={"instrument_id": usual_instrument_id(request.user)})
    context = {
        "roll": read.roll,
        "read": read,
        "light": light_series(read.roll.exposure_revision),
        "lights": LIGHTS,
        "form": form,
        "faults": faults[:SHOWN_FAULTS],
        "hidden_faults": max(len(faults) - SHOWN_FAULTS, 0),
    }
    status = 400 if form.is_bound and form.errors else 200
    return render(request, "curves/printing/patch_import.html", context, status=status)


@require_safe
@members_only
def preview(request, staged_id: int):
    """Show what the file says and what storing it would change."""
    shown = patch_file_preview(request.user, staged_id)
    return render(request, "curves/printing/patch_preview.html", {"shown": shown, "roll": shown.read.roll})


@posted_from("patch_file")
@members_only
def store(request, staged_id: int):
    """Store the previewed readings as a whole."""
    shown = patch_file_preview(request.user, staged_id)
    version = request.POST.get("version", "")
    try:
        changed = commit_staged_patches(actor=request.user, staged_id=staged_id, version=version)
    except WrongState as fault:
        text = fault.message if fault.code != "stale" else "The roll's patches have changed meanwhile."
        messages.error(request, f"{text} Look at the preview again.")
        return redirect("patch_file", staged_id)
    text = f"The readings of {shown.staged.filename} are stored."
    if not changed:
        text = f"{shown.staged.filename} says what stood there already; no reading was changed."
    messages.success(request, text)
    return redirect("roll_patches", shown.read.roll.pk)


@posted_from("patch_file")
@members_only
def discard(request, staged_id: int):
    """Drop the preview; nothing of the file is kept."""
    shown = patch_file_preview(request.user, staged_id)
    discard_staged_patches(actor=request.user, staged_id=staged_id)
    messages.success(request, f"{shown.staged.filename} is discarded; nothing of it was stored.")
    return redirect("roll_patches", shown.read.roll.pk)


@require_safe
@members_only
def readings_csv(request, roll_id: int):
    """The standing readings of a roll's patches, as the upload takes them back."""
    read = _with_target(request, roll_id)
    return _csv(read, standing_patch_rows(read), "patches")


@require_safe
@members_only
def template_csv(request, roll_id: int):
    """A table of the target's patches with the densities to be filled in."""
    read = _with_target(request, roll_id)
    return _csv(read, empty_patch_rows(read), "patches-to-fill-in")


def _with_target(request, roll_id: int) -> RollPatches:
    read = roll_patches(request.user, roll_id)
    if read.patch_set is None:
        raise NotFound(
            f"No patches are entered for {read.roll.exposure_revision}. An admin has to say what is on the "
            "target first."
        )
    return read


def _csv(read: RollPatches, rows, name: str) -> HttpResponse:
    roll = read.roll
    comments = [
        f"{roll.code}: {roll.batch.stock}, {roll.batch}",
        f"{read.patch_set}, exposed under {roll.exposure_revision}",
        "density: gross; offset_stops: exposure against the metered one, more is positive; repeat counts "
        "readings of one patch",
    ]
    answer = HttpResponse(write_patches_csv(rows, comments=comments), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{roll.code}-{name}.csv"'
    return answer


def _staged(request, roll_id: int, form: PatchFileForm):
    file = form.cleaned_data["file"]
    return stage_patch_file(
        actor=request.user,
        roll_id=roll_id,
        filename=file.name,
        # One byte more than is accepted: enough to be told that it is too large, whatever it weighs.
        data=file.read(MAX_BYTES + 1),
        instrument_id=form.cleaned_data["instrument_id"],
    )
