"""What people do to jobs: ask for one, stop one, try one again."""

from functools import partial

from django.db import transaction
from django.utils import timezone
from django.utils.text import Truncator

from labsite.accounts.models import User
from labsite.accounts.services import record_audit
from labsite.common.access import is_admin, require_member
from labsite.common.errors import NotAllowed, WrongState
from labsite.jobs.models import Job
from labsite.jobs.registry import handler_for
from labsite.jobs.services.sending import announce_job


@transaction.atomic
def submit_job(
    *,
    kind: str,
    subject: dict,
    label: str,
    requested_by: User | None = None,
    dedupe_key: str = "",
    link: str = "",
) -> Job:
    """Save a job in the caller's transaction and announce its id once that is committed.

    A job with the same ``dedupe_key`` that still waits is returned instead. Its row stays locked until
    the caller commits, so that it cannot be claimed before the caller's data can be read. A running job
    absorbs nothing: it may have read the older data.
    """
    handler = handler_for(kind)
    job = _waiting_job(dedupe_key) if dedupe_key else None
    if job is None:
        job = Job.objects.create(
            kind=kind,
            subject=subject,
            label=Truncator(label).chars(Job._meta.get_field("label").max_length),
            requested_by=requested_by,
            dedupe_key=dedupe_key,
            link=link,
            time_limit_s=handler.time_limit_s,
            sent_at=timezone.now(),
        )
        transaction.on_commit(partial(announce_job, job.pk, job.time_limit_s))
    return job


def _waiting_job(dedupe_key: str) -> Job | None:
    waiting = Job.objects.select_for_update().filter(dedupe_key=dedupe_key, state=Job.State.QUEUED)
    return waiting.order_by("created_at").first()


@transaction.atomic
def cancel_job(*, actor: User, job: Job) -> Job:
    """Stop a job that waits or runs; whatever it has not stored yet will not be stored."""
    job = _locked_for(actor, job)
    if job.is_ended:
        raise WrongState(f"This job has ended already ({job.get_state_display().lower()}).")
    before = {"state": job.state}
    job.state = Job.State.CANCELLED
    job.claim_token = None
    job.lease_until = None
    job.finished_at = timezone.now()
    job.save(update_fields=["state", "claim_token", "lease_until", "finished_at"])
    record_audit(actor=actor, action="cancel job", subject=job, before=before, after={"state": job.state})
    return job


@transaction.atomic
def retry_job(*, actor: User, job: Job) -> Job:
    """Put a failed or cancelled job back in the line with all its attempts."""
    job = _locked_for(actor, job)
    if job.state not in (Job.State.FAILED, Job.State.CANCELLED):
        raise WrongState("Only a job that failed or was cancelled can be tried again.")
    before = {"state": job.state, "error_code": job.error_code}
    fresh = {
        "state": Job.State.QUEUED,
        "attempts": 0,
        "not_before": None,
        "sent_at": timezone.now(),
        "progress_percent": 0,
        "progress_text": "",
        "error_code": "",
        "error_text": "",
        "started_at": None,
        "finished_at": None,
    }
    for name, value in fresh.items():
        setattr(job, name, value)
    job.save(update_fields=list(fresh))
    record_audit(actor=actor, action="retry job", subject=job, before=before, after={"state": job.state})
    transaction.on_commit(partial(announce_job, job.pk, job.time_limit_s))
    return job


def _locked_for(actor: User, job: Job) -> Job:
    require_member(actor)
    job = Job.objects.select_for_update().get(pk=job.pk)
    if job.requested_by_id != actor.pk and not is_admin(actor):
        raise NotAllowed("Only who asked for this job, or an admin of the lab, may do this.")
    return job
