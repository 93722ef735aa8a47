"""What workers do to jobs: claim one, keep the claim alive, store under it, end it.

Every write is an UPDATE filtered by the claim token, so that a worker whose claim is lost (its lease
ran out, somebody cancelled) changes nothing, however late it comes.
"""

import uuid
from contextlib import contextmanager
from datetime import timedelta

from django.db import transaction
from django.db.models import F
from django.utils import timezone

from labsite.jobs.models import Job
from labsite.jobs.queries import claimable_jobs

#: A claim not renewed for so long is dead; the heartbeat renews it four times in that span.
LEASE_S = 60
HEARTBEAT_S = 15
#: A fault of the program may pass (a locked file, a full disk): wait so long times the attempts made.
RETRY_PAUSE_S = 5

PROCESS_LOST = "process_lost"
TIME_LIMIT = "time_limit"
PROGRAM_FAULT = "program_fault"


class JobCancelled(Exception):
    """The claim is gone: the job was cancelled, or its lease ran out. Nothing may be stored."""


def claim_job(job_id, *, claimed_by: str) -> Job | None:
    """Take a waiting job for one attempt; None when it is not there to be taken."""
    now, token = timezone.now(), uuid.uuid4()
    won = (
        claimable_jobs(now)
        .filter(pk=job_id)
        .update(
            state=Job.State.RUNNING,
            attempts=F("attempts") + 1,
            claim_token=token,
            claimed_by=claimed_by,
            lease_until=now + timedelta(seconds=LEASE_S),
            started_at=now,
            progress_percent=0,
            progress_text="",
            error_code="",
            error_text="",
        )
    )
    return Job.objects.filter(pk=job_id, claim_token=token).first() if won else None


def renew_claim(job: Job, **progress) -> bool:
    """Extend the lease, and write the progress fields given; False when the claim is lost."""
    lease_until = timezone.now() + timedelta(seconds=LEASE_S)
    return bool(_held(job).update(lease_until=lease_until, **progress))


@contextmanager
def storing_under_claim(job: Job):
    """A transaction that holds the row locked, so that the claim cannot be lost before the commit."""
    with transaction.atomic():
        if not _held(job).select_for_update().exists():
            raise JobCancelled(str(job.pk))
        yield


def finish_job(job: Job, *, outcome: dict) -> bool:
    """The work is stored: end the job well."""
    return _end(job, Job.State.DONE, outcome=outcome, progress_percent=100)


def fail_job(job: Job, *, code: str, text: str) -> bool:
    """Another attempt would not help: end the job and say why."""
    return _end(job, Job.State.FAILED, error_code=code, error_text=text)


def release_job(job: Job) -> bool:
    """The process is stopping in good order: give the job back, and the attempt with it."""
    return bool(_queue_again(job, attempts=F("attempts") - 1))


def retry_later(job: Job, *, code: str, text: str, pause_s: float | None = None) -> bool:
    """This attempt failed: line up for the next one, or end the job when none is left."""
    if job.attempts >= job.max_attempts:
        return fail_job(job, code=code, text=f"{text} Tried {job.attempts} times.")
    pause_s = RETRY_PAUSE_S * job.attempts if pause_s is None else pause_s
    not_before = timezone.now() + timedelta(seconds=pause_s) if pause_s else None
    return bool(_queue_again(job, not_before=not_before, error_code=code, error_text=text))


def time_limit_reached(job: Job) -> bool:
    """The job ran for longer than its kind may; a second run would too."""
    return fail_job(
        job,
        code=TIME_LIMIT,
        text=f"Stopped after {job.time_limit_s} s, the longest this kind of job may take.",
    )


def process_lost(job: Job, *, pause_s: float | None = None) -> bool:
    """Whoever held the claim is dead."""
    return retry_later(
        job,
        pause_s=pause_s,
        code=PROCESS_LOST,
        text="The process that ran this job was killed (out of memory, or stopped from outside).",
    )


def _held(job: Job):
    return Job.objects.filter(pk=job.pk, state=Job.State.RUNNING, claim_token=job.claim_token)


def _end(job: Job, state: str, **fields) -> bool:
    return bool(
        _held(job).update(
            state=state, claim_token=None, lease_until=None, finished_at=timezone.now(), **fields
        )
    )


def _queue_again(job: Job, **fields) -> int:
    # sent_at is emptied: no message stands for this attempt yet, the sweep sends one.
    return _held(job).update(
        state=Job.State.QUEUED, claim_token=None, lease_until=None, sent_at=None, **fields
    )
