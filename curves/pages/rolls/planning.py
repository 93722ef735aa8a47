"""Planning a roll, and changing what a draft says about itself."""

from django.contrib import messages
from django.shortcuts import redirect, render

from curves.pages.access import GET_OR_POST, members_only
from curves.pages.rolls.forms import PlanForm, RollForm
from curves.queries.rolls import PlanChoices, own_editable_roll, plan_choices
from curves.services.rolls import edit_roll, plan_roll


@GET_OR_POST
@members_only
def plan(request):
    """Plan a roll; ``batch`` or ``stock``, ``process`` and ``exposure`` in the address choose beforehand."""
    choices = plan_choices()
    initial = {
        "batch_id": _asked_batch(request, choices),
        "process_revision_id": _asked_revision(request, "process", choices.processes),
        "exposure_revision_id": _asked_revision(request, "exposure", choices.exposures),
    }
    form = PlanForm(request.POST or None, choices=choices, initial=initial)
    if request.method == "POST":
        roll = form.accepted(plan_roll, actor=request.user)
        if roll is not None:
            messages.success(request, f"{roll.code} is planned.")
            return redirect("roll", roll.pk)
    context = {
        "form": form,
        "choices": choices,
        "stock_id": _number(request.GET.get("stock")),
        "missing": [
            noun
            for noun, found in (
                ("an exposure standard", choices.exposures),
                ("a process standard", choices.processes),
            )
            if not found
        ],
    }
    return render(request, "curves/rolls/plan.html", context, status=_status(form))


@GET_OR_POST
@members_only
def edit(request, roll_id: int):
    """Change a draft's day and notes."""
    roll = own_editable_roll(request.user, roll_id)
    form = RollForm(request.POST or None, initial={"exposed_on": roll.exposed_on, "notes": roll.notes})
    if request.method == "POST" and form.accepted(edit_roll, actor=request.user, roll_id=roll_id):
        messages.success(request, f"{roll.code} is changed.")
        return redirect("roll", roll_id)
    return render(request, "curves/rolls/edit.html", {"form": form, "roll": roll}, status=_status(form))


def _asked_batch(request, choices: PlanChoices) -> int | None:
    """The batch in the address, or the newest one of the stock in the address."""
    batch_id, stock_id = (_number(request.GET.get(name)) for name in ("batch", "stock"))
    asked = (b.pk for b in choices.batches if b.pk == batch_id or (not batch_id and b.stock_id == stock_id))
    return next(asked, None)


def _asked_revision(request, name: str, in_force: tuple) -> int | None:
    """The revision in the address, if it is in force."""
    asked = _number(request.GET.get(name))
    return next((revision.pk for revision in in_force if revision.pk == asked), None)


def _number(text: str | None) -> int | None:
    return int(text) if text and text.isascii() and text.isdigit() else None


def _status(form) -> int:
    return 400 if form.is_bound and form.errors else 200
