"""The run timer: steps with agitation prompts on a phone; what it measured goes into the run."""

from django import forms
from django.contrib import messages
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone

from curves.pages.access import GET_OR_POST, members_only
from curves.pages.control.areas import PROCESS_AREA, control_tabs
from curves.pages.control.run_forms import RunForm
from curves.pages.fields import MinutesField, text_area
from curves.queries.run_timers import TITLES, timer_steps, timings_of
from curves.queries.runs import run_page
from curves.queries.safety_sheets import safety_sheets
from curves.services.run_timings import record_run_times, record_timed_run
from labsite.accounts.pages.forms import LabForm
from labsite.common.errors import NotAllowed, NotFound


class TimesForm(LabForm):
    """How long each step took, as the timer filled it in or as it is typed."""

    def __init__(self, *args, asks_reason: bool = False, **kwargs):
        super().__init__(*args, **kwargs)
        for step, title in TITLES.items():
            self.fields[step] = MinutesField(label=f"{title}, min:s", required=step == "develop")
        self.fields["started_at"] = forms.DateTimeField(required=False, widget=forms.HiddenInput)
        if asks_reason:
            help_text = "The times before stay on record."
            self.fields["reason"] = text_area("Why they differ", rows=2, help_text=help_text)

    def clean(self) -> dict:
        """Return the steps together, as the services take them."""
        given = super().clean()
        kept = {name: given[name] for name in given if name not in TITLES}
        return kept | {"measured_s": {step: given.get(step) for step in TITLES}}


class TimedRunForm(TimesForm):
    """The times and the rest of a new run's record."""

    def __init__(self, *args, revision, **kwargs):
        super().__init__(*args, **kwargs)
        rest = RunForm(revision=revision)
        del rest.fields["development_time_s"]
        self.fields |= rest.fields


@GET_OR_POST
@members_only
def run_timer(request, run_id: int):
    """Time a recorded run."""
    shown = run_page(request.user, run_id)
    if not shown.can_judge:
        raise NotAllowed("Only the run's operator or an admin may time it.")
    earlier = timings_of(shown.run)
    form = TimesForm(request.POST or None, asks_reason=bool(earlier))
    if request.method == "POST" and form.accepted(record_run_times, actor=request.user, run_id=run_id):
        messages.success(request, f"The times of run {run_id} are recorded.")
        return redirect("run", run_id)
    steps = timer_steps(shown.run.revision, shown.run.development_time_s)
    return _timer(request, form, shown.run.revision, steps, run=shown.run, earlier=earlier)


@GET_OR_POST
@members_only
def revision_timer(request, standard_id: int, number: int):
    """Time a run that is not recorded yet, and record it with its times."""
    revision = PROCESS_AREA.catalogue.revision(request.user, standard_id, number)
    if revision.is_editable:
        raise NotFound("A draft has no runs yet; an admin has to put it in force first.")
    initial = {"ran_on": timezone.localdate()}
    form = TimedRunForm(request.POST or None, revision=revision, initial=initial)
    if request.method == "POST":
        run = form.accepted(record_timed_run, actor=request.user, revision_id=revision.pk)
        if run is not None:
            messages.success(request, f"Run {run.pk} is recorded with its times.")
            return redirect("run", run.pk)
    return _timer(request, form, revision, timer_steps(revision, _asked_time(request)))


def _asked_time(request) -> int | None:
    """The developing time that the address asks for, where the standard has none of its own."""
    try:
        return MinutesField(required=False).clean(request.GET.get("time", ""))
    except forms.ValidationError:
        return None


def _timer(request, form, revision, steps, *, run=None, earlier=()):
    context = {
        "tabs": control_tabs(request.user, "run_list"),
        "form": form,
        "revision": revision,
        "run": run,
        "earlier": earlier,
        "steps": steps,
        "step_data": [step.to_dict() for step in steps],
        "timer_key": f"run-{run.pk}" if run else f"revision-{revision.pk}",
        "sheets": safety_sheets(request.user, standard_id=revision.standard_id),
        "back_url": reverse("run", args=[run.pk]) if run else PROCESS_AREA.revision_url(revision),
    }
    return render(request, "curves/control/timer.html", context, status=400 if form.errors else 200)
