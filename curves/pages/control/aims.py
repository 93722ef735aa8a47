"""Aims of control strips: drafting them in three ways, looking at a draft, putting it in force."""

from django.contrib import messages
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST, require_safe

from curves.models import ControlAims
from curves.pages.access import GET_OR_POST, admins_only, members_only
from curves.pages.control.areas import control_tabs
from curves.pages.control.strip_forms import AimsFromStripsForm, CarryOverForm, StatedAimsForm
from curves.queries.control_strips import aims_page
from curves.services.control_aims import (
    carry_over_aims,
    discard_aims,
    draft_aims_from_strips,
    draft_stated_aims,
    put_aims_in_force,
)


@require_safe
@members_only
def aims(request, aims_id: int):
    """Show one set of aims with its limits and what it stands on."""
    context = {
        "tabs": control_tabs(request.user, "strip_list"),
        "shown": aims_page(request.user, aims_id),
    }
    return render(request, "curves/control/strip_aims.html", context)


@GET_OR_POST
@admins_only
def from_strips(request):
    """Draft aims from the latest runs in control."""
    form = AimsFromStripsForm(request.POST or None, initial=_initial(request))
    return _draft(
        request,
        form,
        draft_aims_from_strips,
        title="Aims from strips in control",
        lead="The mean of the latest runs that are not out of control, with limits from how much one run "
        "differs from the next. You state that these runs were in control.",
    )


@GET_OR_POST
@admins_only
def by_hand(request):
    """Draft aims and limits by hand."""
    form = StatedAimsForm(request.POST or None, initial=_initial(request))
    return _draft(
        request,
        form,
        draft_stated_aims,
        title="Aims by hand",
        lead="For instance as the strips came with. By such aims a run can be out of control; they never "
        "prove control, since no strip of this lab stands behind them.",
    )


@GET_OR_POST
@admins_only
def carry_over(request, aims_id: int):
    """Draft aims for a new batch of strips from an overlap."""
    old = aims_page(request.user, aims_id).aims
    form = CarryOverForm(request.POST or None, old_batch_id=old.strip_batch_id)

    def carried(**given) -> ControlAims:
        return carry_over_aims(aims_id=aims_id, **given)

    return _draft(
        request,
        form,
        carried,
        title=f"Carry the aims of {old.strip_batch} over",
        lead="By runs in which strips of both batches were developed: the difference moves the aims, and its "
        "uncertainty widens what is known of them.",
    )


@require_POST
@admins_only
def enforce(request, aims_id: int):
    """Put a draft in force."""
    count = put_aims_in_force(actor=request.user, aims_id=aims_id)
    judged = f" {count} run{'' if count == 1 else 's'} could be judged by them." if count else ""
    messages.success(request, f"The aims are in force.{judged}")
    return redirect("strip_aims", aims_id)


@require_POST
@admins_only
def discard(request, aims_id: int):
    """Throw a draft away."""
    discard_aims(actor=request.user, aims_id=aims_id)
    messages.success(request, "The draft is discarded; the history keeps what it said.")
    return redirect("strip_list")


def _initial(request) -> dict:
    asked = {"process_revision_id": request.GET.get("revision"), "batch_id": request.GET.get("batch")}
    return {name: value for name, value in asked.items() if value}


def _draft(request, form, service, *, title: str, lead: str):
    if request.method == "POST":
        drafted = form.accepted(service, actor=request.user)
        if drafted is not None:
            messages.success(request, "Drafted. Look at the limits, then put the aims in force.")
            return redirect("strip_aims", drafted.pk)
    context = {
        "tabs": control_tabs(request.user, "strip_list"),
        "form": form,
        "title": title,
        "lead": lead,
        "save": "Draft",
    }
    return render(request, "curves/control/strip_aims_form.html", context, status=400 if form.errors else 200)
