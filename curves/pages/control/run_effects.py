"""What rests on a run, before and after it is declared void."""

from django.contrib import messages
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from curves.pages.access import GET_OR_POST, admins_only, members_only
from curves.pages.control.areas import control_tabs
from curves.pages.fields import text_area
from curves.pages.listing import csv_file, is_export
from curves.queries.run_effects import RestingOn, run_effects
from curves.services.run_voids import void_run
from labsite.accounts.pages.forms import LabForm


class VoidForm(LabForm):
    """Why nothing may rest on it any more."""

    reason = text_area("What was wrong", rows=2, help_text="Shown wherever its rolls are, and kept.")


@require_safe
@members_only
def effects(request, run_id: int):
    """List what rests on a run."""
    shown = run_effects(request.user, run_id)
    if is_export(request):
        return effects_csv(f"run-{run_id}-effects.csv", shown.resting)
    return _page(request, shown, form=None)


@GET_OR_POST
@admins_only
def void(request, run_id: int):
    """Show what would follow, ask why; then declare the run void."""
    form = VoidForm(request.POST or None)
    if request.method == "POST" and form.accepted(void_run, actor=request.user, run_id=run_id):
        messages.success(request, f"Run {run_id} is void. What rested on it is listed here, and pooled anew.")
        return redirect("run_effects", run_id)
    return _page(request, run_effects(request.user, run_id), form=form)


def effects_csv(filename: str, resting: RestingOn):
    """Return what rests on some rolls as a file: a line for each roll, result, estimate and reference."""
    rows = [
        *(("roll", roll.code, str(roll.batch.stock), roll.get_state_display()) for roll in resting.rolls),
        *(_result_row(each, "stands") for each in resting.standing),
        *(_result_row(each, "past") for each in resting.past),
        *(("spread estimate", each.pk, _pair(each), "stands") for each in resting.spreads),
        *(("house reference", str(each.stock), _pair(each), "stands") for each in resting.references),
    ]
    titles = ("what", "name", "of", "state")
    columns = [(title, lambda row, n=number: row[n]) for number, title in enumerate(titles)]
    return csv_file(filename, rows, columns)


def _result_row(effect, state: str) -> tuple:
    of = f"{effect.pooled.stock}, {_pair(effect.pooled)}"
    return "result", f"result {effect.pooled.pk}", of, state


def _pair(row) -> str:
    return f"{row.process_revision} with {row.exposure_revision}"


def _page(request, shown, *, form):
    context = {
        "tabs": control_tabs(request.user, "run_list"),
        "shown": shown,
        "resting": shown.resting,
        "form": form,
    }
    status = 400 if form is not None and form.errors else 200
    return render(request, "curves/control/run_effects.html", context, status=status)
