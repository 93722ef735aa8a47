"""Pages of jobs: the list, one job, the fragment that shows progress, and the two things one can do."""

from django import forms
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from labsite.accounts.pages.access import members_only, posted_from
from labsite.accounts.pages.outcomes import done_or_told
from labsite.common.access import is_admin, is_member
from labsite.jobs import queries, services
from labsite.jobs.models import Job

PAGE_SIZE = 50


class JobFilter(forms.Form):
    """Which jobs the list shows; both choices live in the address."""

    state = forms.ChoiceField(label="State", required=False, choices=[("", "Any"), *Job.State.choices])
    whose = forms.ChoiceField(label="Asked by", required=False, choices=[("", "Anybody"), ("me", "Me")])

    def chosen(self, jobs, user):
        """The jobs that match; what is not a choice counts as none made."""
        data = self.cleaned_data if self.is_valid() else {}
        if data.get("state"):
            jobs = jobs.filter(state=data["state"])
        return jobs.filter(requested_by=user) if data.get("whose") == "me" else jobs


@members_only
@require_safe
def job_list(request):
    """The whole lab's jobs, newest first."""
    form = JobFilter(request.GET)
    jobs = form.chosen(queries.visible_jobs(request.user), request.user)
    page = Paginator(jobs, PAGE_SIZE).get_page(request.GET.get("page"))
    context = {"form": form, "page": page, "health": queries.queue_health()}
    return render(request, "jobs/list.html", context)


@members_only
@never_cache
@require_safe
def detail(request, job_id):
    """One job: how far it is, how it ended, what can be done."""
    job = get_object_or_404(queries.visible_jobs(request.user), pk=job_id)
    may_change = is_admin(request.user) or job.requested_by_id == request.user.pk
    return render(request, "jobs/detail.html", {"job": job, "may_change": may_change})


@never_cache
@require_safe
def progress(request, job_id):
    """The part of a page that shows progress; nothing (204) when the page has seen this state.

    The page that waits for the result is loaded again when it is there; the job's own page at any end.
    """
    if not is_member(request.user):
        # The session ended while the page was polling: loading the page again leads to the sign-in.
        return HttpResponse(status=403, headers={"HX-Refresh": "true"})
    job = get_object_or_404(queries.visible_jobs(request.user), pk=job_id)
    if request.GET.get("seen") == job.progress_mark:
        return HttpResponse(status=204)
    response = render(request, "jobs/progress.html", {"job": job})
    asked_from = request.htmx.current_url_abs_path
    is_result_here = job.state == Job.State.DONE and asked_from == job.link
    if is_result_here or (job.is_ended and asked_from == job.get_absolute_url()):
        response["HX-Refresh"] = "true"
    return response


@posted_from("jobs:detail")
@members_only
def cancel(request, job_id):
    """Stop the job."""
    return _changed(request, job_id, services.cancel_job, "The job is cancelled.")


@posted_from("jobs:detail")
@members_only
def retry(request, job_id):
    """Put the job back in the line."""
    return _changed(request, job_id, services.retry_job, "The job waits to be run again.")


def _changed(request, job_id, service, done: str):
    job = get_object_or_404(queries.visible_jobs(request.user), pk=job_id)
    return done_or_told(request, redirect("jobs:detail", job.pk), service, done, job=job)
