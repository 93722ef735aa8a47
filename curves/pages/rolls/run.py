"""The step in which a roll gets its process run: one that is recorded already, or a new one."""

from django.contrib import messages
from django.shortcuts import redirect, render
from django.utils import timezone

from curves.models import ProcessRun
from curves.models.processes import ControlState
from curves.pages.access import GET_OR_POST, members_only
from curves.pages.control.run_forms import RunForm
from curves.queries.rolls import own_editable_roll, runs_for
from curves.services.rolls import assign_run, record_roll_run
from labsite.common.errors import LabError


@GET_OR_POST
@members_only
def run_step(request, roll_id: int):
    """Choose the run in which the roll was developed, or record it."""
    roll = own_editable_roll(request.user, roll_id)
    is_choice = "run_id" in request.POST
    data = request.POST if request.method == "POST" and not is_choice else None
    form = RunForm(data, revision=roll.process_revision, initial={"ran_on": timezone.localdate()})
    refusal = ""
    if is_choice:
        refusal = _chosen(request, roll_id)
        if not refusal:
            return redirect("roll", roll_id)
    elif data is not None:
        developed = form.accepted(record_roll_run, actor=request.user, roll_id=roll_id)
        if developed is not None:
            _say(request, developed.run)
            return redirect("roll", roll_id)
    context = {"roll": roll, "form": form, "runs": runs_for(roll), "refusal": refusal}
    status = 400 if refusal or form.errors else 200
    return render(request, "curves/rolls/run.html", context, status=status)


def _chosen(request, roll_id: int) -> str:
    """Assign the run that was chosen, or return why it can't be."""
    text = request.POST["run_id"]
    run_id = int(text) if text.isascii() and text.isdigit() else 0
    try:
        _say(request, assign_run(actor=request.user, roll_id=roll_id, run_id=run_id).run)
    except LabError as fault:
        return fault.message
    return ""


def _say(request, run: ProcessRun) -> None:
    if run.control_state == ControlState.OUT_OF_CONTROL:
        messages.warning(request, f"Run {run.pk} is out of control: {run.control_reason}.")
    else:
        messages.success(request, f"Run {run.pk} is the roll's: {run.get_control_state_display()}.")
