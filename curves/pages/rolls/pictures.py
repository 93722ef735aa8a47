"""Grain and sharpness of a roll: what stands, by which rig and from which scan, what was ended and why."""

from django.contrib import messages
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from curves.pages.access import GET_OR_POST, members_only
from curves.pages.fields import text_area
from curves.queries.picture_measures import roll_pictures
from curves.queries.rolls import visible_roll
from curves.services.picture_measures import LONGEST_REASON, end_picture_measure
from labsite.accounts.pages.forms import LabForm
from labsite.common.errors import InvalidInput, LabError


class EndForm(LabForm):
    """Why a measure no longer stands."""

    reason = text_area("Why it no longer stands", rows=2, max_length=LONGEST_REASON)


@require_safe
@members_only
def roll_picture_page(request, roll_id: int):
    """Show the roll's grain and sharpness."""
    return _page(request, roll_id)


@GET_OR_POST
@members_only
def end(request, roll_id: int, measure_id: int):
    """Let one of them stand no longer."""
    visible_roll(request.user, roll_id)
    if request.method != "POST":  # whoever had to sign in first comes back by GET
        return redirect("roll_pictures", roll_id)
    form = EndForm(request.POST)
    try:
        if form.is_valid():
            end_picture_measure(
                actor=request.user, roll_id=roll_id, measure_id=measure_id, **form.cleaned_data
            )
    except InvalidInput as fault:
        form.refuse(fault)
    except LabError as fault:
        messages.error(request, fault.message)
        return redirect("roll_pictures", roll_id)
    if form.errors:
        return _page(request, roll_id, form=form, measure_id=measure_id, status=400)
    messages.success(request, "It no longer stands; it is kept with your reason.")
    return redirect("roll_pictures", roll_id)


def _page(request, roll_id: int, *, form=None, measure_id: int = 0, status: int = 200):
    roll = visible_roll(request.user, roll_id)
    standing, ended = roll_pictures(roll)
    forms = [form if each.pk == measure_id else EndForm(auto_id=f"end_{each.pk}_%s") for each in standing]
    context = {"roll": roll, "standing": list(zip(standing, forms, strict=True)), "ended": ended}
    return render(request, "curves/rolls/pictures.html", context, status=status)
