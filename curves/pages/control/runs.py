"""Process runs: the list, recording one, one run against its standard, correcting and judging it."""

from django.contrib import messages
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from curves.pages.access import GET_OR_POST, members_only
from curves.pages.control.areas import control_tabs
from curves.pages.control.run_forms import CorrectionForm, JudgementForm, RunFilterForm, RunForm
from curves.pages.listing import csv_file, export_url, is_export, kept_parameters, page_of, sorted_rows
from curves.queries.runs import run_page, run_rows, visible_runs
from curves.services.runs import RECORDED, correct_run, judge_run, record_run

SORT_KEYS = {
    "day": "ran_on",
    "standard": "revision__standard__name",
    "operator": "operator__display_name",
    "state": "control_state",
    "temperature": "temperature_start_c",
    "time": "development_time_s",
}


@require_safe
@members_only
def run_list(request):
    """List process runs, newest first unless sorted otherwise."""
    form = RunFilterForm(request.GET)
    wanted = form.wanted()
    runs = visible_runs(request.user, wanted)
    runs = sorted_rows(request, runs if wanted else runs.none(), SORT_KEYS, default="-day")
    if is_export(request):
        columns = [
            ("run", lambda run: run.pk),
            ("day", lambda run: f"{run.ran_on:%Y-%m-%d}"),
            ("process standard", lambda run: str(run.revision)),
            ("operator", lambda run: str(run.operator)),
            ("temperature_start_c", lambda run: run.temperature_start_c),
            ("temperature_end_c", lambda run: run.temperature_end_c),
            ("development_time_s", lambda run: run.development_time_s),
            ("developer batch", lambda run: run.developer_batch),
            ("films through before", lambda run: run.films_through),
            ("state", lambda run: run.get_control_state_display()),
            ("reason", lambda run: run.control_reason),
            ("rolls", lambda run: run.roll_count),
        ]
        return csv_file("process-runs.csv", runs, columns)
    page = page_of(request, runs)
    context = {
        "tabs": control_tabs(request.user, "run_list"),
        "form": form,
        "page": page,
        "rows": run_rows(page),
        "export_url": export_url(request),
        "keep": kept_parameters(request, "sort"),
    }
    return render(request, "curves/control/run_list.html", context)


@GET_OR_POST
@members_only
def new_run(request):
    """Record a run; the page that follows says at once whether it kept to the tolerances."""
    form = RunForm(request.POST or None, initial={"ran_on": timezone.localdate()})
    if request.method == "POST":
        run = form.accepted(record_run, actor=request.user)
        if run is not None:
            messages.success(request, f"Run {run.pk} is recorded: {run.get_control_state_display()}.")
            return redirect("run", run.pk)
    return _form_page(request, form, title="Record a process run", save="Record")


@GET_OR_POST
@members_only
def correct(request, run_id: int):
    """Mend a run's record, with the reason."""
    run = run_page(request.user, run_id).run
    initial = {name: getattr(run, name) for name in RECORDED}
    form = CorrectionForm(request.POST or None, revision=run.revision, initial=initial)
    if request.method == "POST":
        corrected = form.accepted(correct_run, actor=request.user, run_id=run_id)
        if corrected is not None:
            messages.success(request, f"Run {run_id} is corrected: {corrected.get_control_state_display()}.")
            return redirect("run", run_id)
    return _form_page(request, form, title=f"Correct run {run_id}", save="Save the correction", run=run)


@require_safe
@members_only
def run(request, run_id: int):
    """Show one run against its standard."""
    return _run_page(request, run_id)


@require_POST
@members_only
def judge(request, run_id: int):
    """Judge a run by hand, with the reason."""
    form = JudgementForm(request.POST)
    judged = form.accepted(judge_run, actor=request.user, run_id=run_id)
    if judged is None:
        return _run_page(request, run_id, form=form, status=400)
    messages.success(request, f"Run {run_id} is judged {judged.get_control_state_display()}.")
    return redirect("run", run_id)


def _run_page(request, run_id: int, *, form=None, status: int = 200):
    shown = run_page(request.user, run_id)
    context = {
        "tabs": control_tabs(request.user, "run_list"),
        "shown": shown,
        "form": form or JudgementForm(initial={"control_state": shown.run.control_state}),
    }
    return render(request, "curves/control/run.html", context, status=status)


def _form_page(request, form, *, title: str, save: str, run=None):
    context = {
        "tabs": control_tabs(request.user, "run_list"),
        "form": form,
        "title": title,
        "save": save,
        "run": run,
    }
    status = 400 if form.is_bound and form.errors else 200
    return render(request, "curves/control/run_form.html", context, status=status)
