"""Jobs for scripts: how far they are, how they ended, and the two things one can do."""

from django.urls import path
from rest_framework import serializers

from labsite.accounts.api.access import Members
from labsite.accounts.api.documents import operation
from labsite.accounts.api.fields import Asked, Choice, PersonSerializer
from labsite.accounts.api.views import LabView
from labsite.common.errors import NotFound
from labsite.jobs.models import Job
from labsite.jobs.queries import visible_jobs
from labsite.jobs.services import cancel_job, retry_job

JOB_STATE = "JobState"


class JobSerializer(serializers.Serializer):
    """One piece of work."""

    id = serializers.UUIDField()
    kind = serializers.CharField()
    label = serializers.CharField(help_text="What it is for, in plain words.")
    state = Choice(Job.State, name=JOB_STATE)
    is_ended = serializers.BooleanField(help_text="Whether nothing more will happen by itself.")
    attempts = serializers.IntegerField()
    max_attempts = serializers.IntegerField()
    progress_percent = serializers.IntegerField()
    progress_text = serializers.CharField()
    outcome = serializers.JSONField(allow_null=True, help_text="What it found; null before its end.")
    error_code = serializers.CharField()
    error_text = serializers.CharField(help_text="Why it failed; empty unless it did.")
    requested_by = PersonSerializer(allow_null=True)
    link = serializers.CharField(help_text="The page with the result.")
    created_at = serializers.DateTimeField()
    started_at = serializers.DateTimeField(allow_null=True)
    finished_at = serializers.DateTimeField(allow_null=True)
    duration_s = serializers.FloatField(allow_null=True, help_text="Seconds that the last attempt took.")


class JobsAskedSerializer(Asked):
    """Which jobs are wanted."""

    state = Choice(Job.State, name=JOB_STATE, required=False)
    is_mine = serializers.BooleanField(required=False, help_text="Only those that you asked for.")


class Jobs(LabView):
    """The lab's jobs."""

    @operation(access=Members, asks=JobsAskedSerializer, lists=JobSerializer)
    def get(self, request):
        """List jobs, newest first."""
        asked = self.asked(JobsAskedSerializer)
        jobs = visible_jobs(request.user)
        if "state" in asked:
            jobs = jobs.filter(state=asked["state"])
        if asked.get("is_mine"):
            jobs = jobs.filter(requested_by=request.user)
        return self.paged(JobSerializer, jobs)


class OneJob(LabView):
    """One job."""

    @operation(access=Members, answer=JobSerializer, refusals=(404,))
    def get(self, request, job_id):
        """Read one job; ask again every second or two until it has ended."""
        return self.answer(JobSerializer, _job(request.user, job_id))


class CancelJob(LabView):
    """Stopping a job."""

    @operation(access=Members, answer=JobSerializer, refusals=(404, 409))
    def post(self, request, job_id):
        """Stop a job; what it has not stored yet will not be stored."""
        job = cancel_job(actor=request.user, job=_job(request.user, job_id))
        return self.answer(JobSerializer, job)


class RetryJob(LabView):
    """Trying a job again."""

    @operation(access=Members, answer=JobSerializer, refusals=(404, 409))
    def post(self, request, job_id):
        """Put a failed or cancelled job back in the line."""
        job = retry_job(actor=request.user, job=_job(request.user, job_id))
        return self.answer(JobSerializer, job)


def _job(user, job_id) -> Job:
    job = visible_jobs(user).filter(pk=job_id).first()
    if job is None:
        raise NotFound("There is no such job.")
    return job


ONE = "jobs/<uuid:job_id>/"

urlpatterns = [
    path("jobs/", Jobs.as_view(), name="api_jobs"),
    path(ONE, OneJob.as_view(), name="api_job"),
    path(f"{ONE}cancel/", CancelJob.as_view(), name="api_job_cancel"),
    path(f"{ONE}retry/", RetryJob.as_view(), name="api_job_retry"),
]
