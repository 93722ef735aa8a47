"""Times in which an instrument was wrong: found with a preview of what follows, overridden, lifted."""

from django.contrib import messages
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST, require_safe

from curves.pages.access import GET_OR_POST, admins_only, members_only
from curves.pages.control.areas import control_tabs
from curves.pages.control.run_effects import effects_csv
from curves.pages.fields import day_field, text_area
from curves.pages.listing import is_export
from curves.queries.instrument_findings import finding_page, findings_of, previewed_finding
from curves.queries.instruments import visible_instrument
from curves.services.instrument_findings import (
    find_instrument_wrong,
    lift_finding,
    override_hold,
    return_for_rereading,
)
from labsite.accounts.pages.forms import LabForm


class FindingForm(LabForm):
    """When an instrument was wrong, and how."""

    first_on = day_field("From")
    last_on = day_field("To")
    reason = text_area("What was wrong", rows=2, help_text="Shown wherever a result is held back by it.")


class PeriodForm(LabForm):
    """The days that a preview is wanted of."""

    first_on = day_field("From")
    last_on = day_field("To")


class LiftForm(LabForm):
    """Why the readings are good after all."""

    reason = text_area("Why the readings are good after all", rows=2)


class HoldForm(LabForm):
    """Why a roll may count all the same; left empty where it may not any more."""

    reason = text_area("Why it may count all the same", rows=1, required=False)


@require_safe
@members_only
def finding_list(request, instrument_id: int):
    """List what was found about an instrument."""
    instrument = visible_instrument(request.user, instrument_id)
    context = {
        "tabs": control_tabs(request.user, "instrument_list"),
        "instrument": instrument,
        "findings": findings_of(request.user, instrument),
    }
    return render(request, "curves/control/finding_list.html", context)


@GET_OR_POST
@admins_only
def new_finding(request, instrument_id: int):
    """Preview what was read in some days; then find the instrument wrong in them."""
    instrument = visible_instrument(request.user, instrument_id)
    asked = PeriodForm(request.GET) if request.GET else None
    form = FindingForm(request.POST or None, initial=request.GET.dict())
    if request.method == "POST":
        finding = form.accepted(find_instrument_wrong, actor=request.user, instrument_id=instrument_id)
        if finding is not None:
            messages.success(request, "Found wrong. What rests on its readings of those days is held back.")
            return redirect("finding", finding.pk)
        asked = PeriodForm(request.POST)
    preview = None
    if (
        asked is not None
        and asked.is_valid()
        and asked.cleaned_data["first_on"] <= asked.cleaned_data["last_on"]
    ):
        preview = previewed_finding(request.user, instrument, **asked.cleaned_data)
    context = {
        "tabs": control_tabs(request.user, "instrument_list"),
        "instrument": instrument,
        "form": form,
        "preview": preview,
    }
    return render(request, "curves/control/finding_new.html", context, status=400 if form.errors else 200)


@require_safe
@members_only
def finding(request, finding_id: int):
    """Show a finding with what it holds back."""
    if is_export(request):
        shown = finding_page(request.user, finding_id)
        return effects_csv(f"finding-{finding_id}-effects.csv", shown.resting)
    return _finding_page(request, finding_id, form=LiftForm())


@require_POST
@admins_only
def lift(request, finding_id: int):
    """Take a finding back."""
    form = LiftForm(request.POST)
    if form.accepted(lift_finding, actor=request.user, finding_id=finding_id) is None:
        return _finding_page(request, finding_id, form=form, status=400)
    messages.success(request, "The finding is lifted; it holds nothing back any more.")
    return redirect("finding", finding_id)


@require_POST
@admins_only
def override(request, finding_id: int, roll_id: int):
    """Let a roll in with a reason, or hold it back again without one."""
    form = HoldForm(request.POST)
    roll = form.accepted(override_hold, actor=request.user, roll_id=roll_id)
    if roll is None:
        return _finding_page(request, finding_id, form=LiftForm(), status=400)
    state = "counts, with your reason" if roll.hold_override_reason else "is held back"
    messages.success(request, f"{roll.code} {state}.")
    return redirect("finding", finding_id)


@require_POST
@admins_only
def reread(request, finding_id: int, roll_id: int):
    """Return an accepted roll to its member to be read again."""
    review = return_for_rereading(actor=request.user, roll_id=roll_id)
    messages.success(request, f"{review.roll.code} is returned to {review.roll.member} to be read again.")
    return redirect("finding", finding_id)


def _finding_page(request, finding_id: int, *, form, status: int = 200):
    shown = finding_page(request.user, finding_id)
    context = {
        "tabs": control_tabs(request.user, "instrument_list"),
        "shown": shown,
        "finding": shown.finding,
        "resting": shown.resting,
        "form": form,
    }
    return render(request, "curves/control/finding.html", context, status=status)
