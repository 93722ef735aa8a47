"""Agreement between members: the studies, entering readings, and what a study says."""

from django.contrib import messages
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST, require_safe

from curves.pages.access import GET_OR_POST, members_only
from curves.pages.control.agreement_forms import (
    StudyForm,
    StudyReadingsForm,
    StudyReasonForm,
    WithdrawForm,
)
from curves.pages.control.agreement_views import found_words, pair_view, precision_rows, proposal_rows
from curves.pages.control.areas import control_tabs
from curves.pages.listing import csv_file, export_url, is_export, page_of, sorted_rows
from curves.pages.typed_grid import TypedGrid, grid_cells, typed_grid
from curves.queries.agreement import (
    study_grid,
    study_instruments,
    visible_studies,
    visible_study,
    withdrawn_study_readings,
)
from curves.queries.readings import USUAL_SD
from curves.queries.study_results import chosen_reference, study_references, study_results
from curves.services.agreement import (
    close_study,
    create_study,
    record_study_readings,
    reopen_study,
    withdraw_study_readings,
)
from labsite.common.access import is_admin
from labsite.common.errors import LabError, NotFound

SORT_KEYS = {"name": "name", "made": "created_at", "readings": "reading_count", "closed": "closed_at"}
#: How far repeated readings of a step may differ [D] before the grid remarks on it (house choice).
SPREAD_LIMIT = 0.03


@require_safe
@members_only
def study_list(request):
    """List the studies."""
    rows = sorted_rows(request, visible_studies(request.user), SORT_KEYS, default="-made")
    if is_export(request):
        columns = [
            ("study", lambda row: row.name),
            ("strip", lambda row: row.strip_name),
            ("steps", lambda row: row.step_count),
            ("members", lambda row: row.member_count),
            ("instruments", lambda row: row.instrument_count),
            ("readings", lambda row: row.reading_count),
            ("state", lambda row: "open" if row.is_open else "closed"),
        ]
        return csv_file("agreement-studies.csv", rows, columns)
    context = {
        "tabs": control_tabs(request.user, "agreement_list"),
        "page": page_of(request, rows),
        "export_url": export_url(request),
    }
    return render(request, "curves/control/agreement_list.html", context)


@GET_OR_POST
@members_only
def new_study(request):
    """Set up a study."""
    form = StudyForm(request.POST or None)
    if request.method == "POST":
        study = form.accepted(create_study, actor=request.user)
        if study is not None:
            messages.success(request, f"{study} is set up; let the strip go round.")
            return redirect("agreement", study.pk)
    context = {"tabs": control_tabs(request.user, "agreement_list"), "form": form}
    return render(request, "curves/control/agreement_new.html", context, status=400 if form.errors else 200)


@require_safe
@members_only
def study_page(request, study_id: int):
    """Show a study with all that it says."""
    if is_export(request):
        return _readings_csv(request, study_id)
    return _study_page(request, study_id)


@GET_OR_POST
@members_only
def enter(request, study_id: int):
    """Enter or correct one's own readings with one instrument."""
    study = visible_study(request.user, study_id)
    instruments = list(study_instruments(study))
    instrument = _chosen(instruments, request.GET.get("instrument", ""))
    grid = study_grid(request.user, study, instrument)
    typed, form = None, StudyReadingsForm(initial={"version": grid.version})
    status, more = 200, 0
    if request.method == "POST" and instrument is None:
        form.errors["instrument"] = ["Choose the instrument first."]
        status = 400
    elif request.method == "POST":
        typed, form = typed_grid(request.POST), StudyReadingsForm(request.POST)
        more = int("add_replicate" in request.POST)
        if more:
            form = StudyReadingsForm(initial={name: form.data.get(name) for name in form.fields})
        else:
            typed = _stored(request, grid, form, typed)
            if typed is None:
                return redirect("agreement", study_id)
            status = 400
    rows = grid_cells(grid, typed, more=more)
    context = {
        "tabs": control_tabs(request.user, "agreement_list"),
        "study": study,
        "instruments": instruments,
        "instrument": instrument,
        "grid": grid,
        "form": form,
        "rows": rows,
        "replicates": range(1, len(rows[0]["cells"]) + 1) if rows else (),
        "cell_errors": len(typed.errors) if typed and status == 400 else 0,
        "draft": _draft_key(study, instrument),
        "spread_limit": SPREAD_LIMIT,
        "reading_sd": (instrument and instrument.reading_sd) or USUAL_SD,
    }
    return render(request, "curves/control/agreement_readings.html", context, status=status)


@require_POST
@members_only
def withdraw(request, study_id: int):
    """Withdraw readings that do not count."""
    study = visible_study(request.user, study_id)
    form = WithdrawForm(request.POST, groups=study_results(study).groups)
    count = form.accepted(withdraw_study_readings, actor=request.user, study_id=study_id)
    if count is None:
        return _study_page(request, study_id, withdraw_form=form, status=400)
    messages.success(request, f"{count} readings are withdrawn; they stay on record with your reason.")
    return redirect("agreement", study_id)


@require_POST
@members_only
def close(request, study_id: int):
    """Let no more readings in."""
    close_study(actor=request.user, study_id=study_id)
    messages.success(request, "The study is closed. An admin may bring corrections into force from it.")
    return redirect("agreement", study_id)


@require_POST
@members_only
def reopen(request, study_id: int):
    """Let readings in again."""
    form = StudyReasonForm(request.POST)
    if form.accepted(reopen_study, actor=request.user, study_id=study_id) is None:
        return _study_page(request, study_id, reopen_form=form, status=400)
    messages.success(request, "The study is open again.")
    return redirect("agreement", study_id)


def _study_page(request, study_id: int, *, withdraw_form=None, reopen_form=None, status: int = 200):
    study = visible_study(request.user, study_id)
    results = study_results(study)
    reference = chosen_reference(results, request.GET.get("reference", ""))
    pair = pair_view(results, request.GET.get("first", ""), request.GET.get("second", ""))
    mine = [each for each in results.groups if is_admin(request.user) or each.member == request.user]
    context = {
        "tabs": control_tabs(request.user, "agreement_list"),
        "study": study,
        "results": results,
        "precision": results.precision,
        "gauge": results.gauge,
        "steps": precision_rows(results),
        "set_aside": [(each, found_words(each)) for each in results.precision.set_aside],
        "stragglers": [(each, found_words(each)) for each in results.precision.stragglers],
        "references": study_references(results),
        "reference": reference,
        "proposals": proposal_rows(results, reference),
        "pair": pair,
        "may_end": is_admin(request.user) or study.created_by_id == request.user.pk,
        "withdraw_form": (withdraw_form or WithdrawForm(groups=mine)) if mine and study.is_open else None,
        "reopen_form": reopen_form or StudyReasonForm(),
        "withdrawn": list(withdrawn_study_readings(study)[:200]),
    }
    return render(request, "curves/control/agreement.html", context, status=status)


def _chosen(instruments, key: str):
    if not key:
        return None
    found = next((each for each in instruments if str(each.pk) == key), None)
    if found is None:
        raise NotFound("There is no such instrument in use that reads this kind of density.")
    return found


def _draft_key(study, instrument) -> str:
    return f"agreement-{study.pk}-{instrument.pk}" if instrument else ""


def _stored(request, grid, form, typed: TypedGrid) -> TypedGrid | None:
    """Store what was typed and return nothing; or put what is wrong with it beside cells and fields."""
    if not form.is_valid() or typed.errors:
        return typed
    try:
        changed = record_study_readings(
            actor=request.user,
            study_id=grid.study.pk,
            instrument_id=grid.instrument.pk,
            values=typed.values,
            **form.cleaned_data,
        )
    except LabError as fault:
        if fault.code == "stale":
            form.data = form.data.copy()
            form.data["version"] = grid.version
        errors = {each["field"]: each["message"] for each in fault.problems if each["field"] in typed.texts}
        if not errors:
            form.refuse(fault)
        return TypedGrid(typed.texts, typed.values, typed.errors | errors)
    if changed:
        # The tag tells the next page to let go of what the browser kept.
        saved = f"Your readings with {grid.instrument} are saved."
        messages.success(request, saved, extra_tags=_draft_key(grid.study, grid.instrument))
    else:
        messages.info(request, "No reading was changed.")
    return None


def _readings_csv(request, study_id: int):
    results = study_results(visible_study(request.user, study_id))
    columns = [
        ("step", lambda row: row.step),
        ("member", lambda row: str(row.read_by)),
        ("instrument", lambda row: row.instrument.name),
        ("replicate", lambda row: row.replicate),
        ("density as read", lambda row: row.density),
        ("read at", lambda row: row.read_at.isoformat()),
    ]
    return csv_file(f"agreement-{study_id}.csv", results.readings, columns)
