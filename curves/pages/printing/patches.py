"""Patches of a roll: frames typed in, what the film makes of the colours, and the frame that matches."""

from django.contrib import messages
from django.shortcuts import redirect, render

from curves.models import ExposureRevision, PatchSet
from curves.pages.access import GET_OR_POST, admins_only, members_only
from curves.pages.printing.patch_forms import FrameForm, PatchSetForm, patches_text, typed_densities
from curves.queries.bracket_match import bracket_match
from curves.queries.patches import (
    RollPatches,
    ended_patch_readings,
    filter_factors,
    frame_shifts,
    roll_patches,
)
from curves.sensitometry import MEASURES, Analysis
from curves.sensitometry.sampled_curve import SampledCurve
from curves.services.patch_readings import cell_name, record_patch_frame
from curves.services.patch_sets import enter_patch_set
from labsite.common.errors import LabError, NotFound

MATCHED = ("matched_exposure_index", "relative_speed", "nearest_frame_index", "nearest_frame_speed")


@GET_OR_POST
@members_only
def roll_patches_page(request, roll_id: int):
    """Show a roll's frames with patches; its member adds one or corrects it."""
    read = roll_patches(request.user, roll_id)
    may_edit = read.roll.is_editable and read.roll.member_id == request.user.pk
    chosen = next((f for f in read.frames if f.frame.label == request.GET.get("frame")), None)
    form = FrameForm(request.POST or None, initial=_initial(read, chosen))
    errors: dict[str, str] = {}
    if request.method == "POST":
        densities, errors = typed_densities(request.POST)
        if not errors and _stored(request, form, roll_id, densities, errors):
            messages.success(request, f"Frame {form.cleaned_data['label']} is saved.")
            return redirect("roll_patches", roll_id)
        form.is_valid()
    context = _context(read) | {
        "form": form,
        "chosen": chosen,
        "may_edit": may_edit,
        "cells": _cells(request, read, chosen, errors),
    }
    status = 400 if form.is_bound else 200
    return render(request, "curves/printing/roll_patches.html", context, status=status)


@GET_OR_POST
@admins_only
def patch_set_page(request, revision_id: int):
    """Say which patches are on the target of an exposure revision."""
    revision = ExposureRevision.objects.select_related("standard").filter(pk=revision_id).first()
    if revision is None:
        raise NotFound("There is no such exposure revision.")
    standing = PatchSet.objects.filter(exposure_revision=revision).prefetch_related("patches").first()
    initial = {}
    if standing is not None:
        patches = sorted(standing.patches.all(), key=lambda patch: patch.number)
        initial = {"name": standing.name, "source": standing.source, "patches": patches_text(patches)}
    form = PatchSetForm(request.POST or None, initial=initial)
    if request.method == "POST":
        entered = form.accepted(enter_patch_set, actor=request.user, exposure_revision_id=revision_id)
        if entered is not None:
            messages.success(request, f"{entered}: {entered.patches.count()} patches are saved.")
            return redirect("patch_set", revision_id)
    context = {"form": form, "revision": revision, "standing": standing}
    status = 400 if form.is_bound else 200
    return render(request, "curves/printing/patch_set.html", context, status=status)


def _stored(request, form: FrameForm, roll_id: int, densities: dict, errors: dict) -> bool:
    if not form.is_valid():
        return False
    try:
        record_patch_frame(
            actor=request.user,
            roll_id=roll_id,
            densities=densities,
            keeps_instrument=True,
            **form.cleaned_data,
        )
    except LabError as fault:
        for problem in fault.problems:
            errors[problem["field"]] = problem["message"]
        if not fault.problems:
            form.refuse(fault)
        return False
    return True


def _initial(read: RollPatches, chosen) -> dict:
    if chosen is None:
        return {"metered_index": float(read.roll.batch.stock.box_speed)}
    frame = chosen.frame
    return {
        "label": frame.label,
        "offset_stops": frame.offset_stops,
        "metered_index": frame.metered_index,
        "filter_name": frame.filter_name,
    }


def _cells(request, read: RollPatches, chosen, errors: dict) -> list[dict]:
    """A line a patch, a cell a repeat that is stored; what was typed stands before what is stored."""
    stored = chosen.repeats or {} if chosen else {}
    repeats = range(1, (chosen.repeat_count if chosen else 1) + 1)
    lines = []
    for patch in read.patches:
        cells = []
        for repeat in repeats:
            name = cell_name(patch.number, repeat)
            saved = f"{stored[patch.number, repeat]:.10g}" if (patch.number, repeat) in stored else ""
            typed = request.POST.get(name, saved) if request.method == "POST" else saved
            title = patch.label if len(repeats) == 1 else f"{patch.label}, reading {repeat}"
            cells.append({"name": name, "title": title, "value": typed, "error": errors.get(name, "")})
        lines.append({"patch": patch, "cells": cells})
    return lines


def _context(read: RollPatches) -> dict:
    match = bracket_match(read)
    context = {
        "roll": read.roll,
        "read": read,
        "match": match,
        "ended": ended_patch_readings(read.roll),
        "matched": [(MEASURES[name], match.measures[name]) for name in MATCHED if name in match.measures],
        "lines": [
            (patch, [frame.as_read.get(patch.number) for frame in read.frames]) for patch in read.patches
        ],
    }
    if read.roll.current_analysis is None:
        return context
    result = Analysis.from_dict(read.roll.current_analysis.as_dict())
    if result.curve.density.size < 2:
        return context
    curve = SampledCurve.of(result.curve)
    return context | {"shifts": frame_shifts(read, curve), "factors": filter_factors(read, curve)}
