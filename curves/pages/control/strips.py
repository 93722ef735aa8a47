"""Control strips: the batches and aims of the lab, reading a strip into a run, striking one out."""

from django.contrib import messages
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from curves.models import ControlStrip
from curves.models.processes import ControlState
from curves.pages.access import GET_OR_POST, admins_only, members_only
from curves.pages.control.areas import control_tabs
from curves.pages.control.strip_forms import StripBatchForm, StripForm
from curves.pages.listing import csv_file, is_export
from curves.queries.control_strips import strip_batches, strip_to_strike, visible_aims
from curves.queries.runs import run_page
from curves.services.control_strips import add_strip_batch, read_strip, strike_strip
from labsite.accounts.pages.forms import ReasonForm


@require_safe
@members_only
def strip_list(request):
    """Show the batches of strips, and the aims that strips are held to."""
    batches = strip_batches(request.user)
    if is_export(request):
        columns = [
            ("batch", lambda batch: batch.code),
            ("strips read", lambda batch: batch.strip_count),
            ("last run", lambda batch: batch.last_run_on),
            ("notes", lambda batch: batch.notes),
        ]
        return csv_file("strip-batches.csv", batches, columns)
    context = {
        "tabs": control_tabs(request.user, "strip_list"),
        "batches": batches,
        "aims": visible_aims(request.user),
    }
    return render(request, "curves/control/strip_list.html", context)


@GET_OR_POST
@admins_only
def new_batch(request):
    """Add a batch of strips."""
    form = StripBatchForm(request.POST or None)
    if request.method == "POST":
        batch = form.accepted(add_strip_batch, actor=request.user)
        if batch is not None:
            messages.success(request, f"Strips {batch} are added; a run's strip can name them now.")
            return redirect("strip_list")
    context = {
        "tabs": control_tabs(request.user, "strip_list"),
        "form": form,
        "title": "New batch of strips",
        "save": "Add",
    }
    return render(request, "curves/control/strip_form.html", context, status=400 if form.errors else 200)


@GET_OR_POST
@members_only
def read(request, run_id: int):
    """Read a strip; the answer says at once what it shows of the run."""
    shown = run_page(request.user, run_id)
    last = ControlStrip.objects.filter(run__revision=shown.run.revision_id).order_by("-pk").first()
    initial = {"batch_id": last.batch_id, "instrument_id": last.instrument_id} if last else {}
    form = StripForm(request.POST or None, initial=initial)
    if request.method == "POST":
        strip = form.accepted(read_strip, actor=request.user, run_id=run_id)
        if strip is not None:
            strip.run.refresh_from_db()
            _say(request, strip.run)
            return redirect("run", run_id)
    context = {
        "tabs": control_tabs(request.user, "run_list"),
        "form": form,
        "run": shown.run,
        "strips": shown.strips.strips,
    }
    return render(request, "curves/control/strip_read.html", context, status=400 if form.errors else 200)


@GET_OR_POST
@members_only
def strike(request, strip_id: int):
    """Ask what was wrong with a strip's reading; then strike it out."""
    strip = strip_to_strike(request.user, strip_id)
    form = ReasonForm(request.POST or None)
    if request.method == "POST" and form.accepted(strike_strip, actor=request.user, strip_id=strip_id):
        messages.success(request, "The strip is struck out; the run is judged without it.")
        return redirect("run", strip.run_id)
    context = {
        "tabs": control_tabs(request.user, "run_list"),
        "form": form,
        "title": f"Strike out strip {strip.replicate} of batch {strip.batch}",
        "save": "Strike out",
        "run": strip.run,
    }
    return render(request, "curves/control/strip_form.html", context, status=400 if form.errors else 200)


def _say(request, run) -> None:
    words = f"Run {run.pk} is {run.get_control_state_display()}"
    if run.control_state == ControlState.OUT_OF_CONTROL:
        messages.warning(request, f"{words}: {run.control_reason}.")
    else:
        messages.success(request, f"{words}. {run.control_reason[:1].upper()}{run.control_reason[1:]}.")
