"""One attempt at one job: claim it, run its handler under a heartbeat, write how it ended."""

import logging
import threading
import time

from celery.exceptions import SoftTimeLimitExceeded

from labsite.celery import HARD_LIMIT_MARGIN_S
from labsite.common.errors import LabError
from labsite.jobs.models import Job
from labsite.jobs.registry import handler_for
from labsite.jobs.services import claims
from labsite.jobs.services.claims import JobCancelled
from labsite.jobs.ticking import Ticker

logger = logging.getLogger(__name__)

#: Progress written more often than a page asks for it is wasted.
PROGRESS_EVERY_S = 0.2

#: Set while this process is stopping in good order; a job notices at its next ``progress``.
stopping = threading.Event()


class JobInterrupted(Exception):
    """The process is stopping; the job will be run again elsewhere or later."""


class ClaimedRun:
    """The JobRun of one claim (``labsite.jobs.registry.JobRun`` says what a handler may rely on)."""

    def __init__(self, job: Job):
        self._job = job
        self._deadline = time.monotonic() + job.time_limit_s
        self._written_at = 0.0
        self._lost = threading.Event()
        self.job_id = job.pk
        self.subject: dict = job.subject
        self.requested_by_id: int | None = job.requested_by_id
        self.attempt: int = job.attempts

    def progress(self, percent: float, text: str = "") -> None:
        """Write how far the work is, unless that was done a moment ago.

        Raises JobCancelled, JobInterrupted or SoftTimeLimitExceeded.
        """
        self._check_wanted()
        now = time.monotonic()
        if now - self._written_at < PROGRESS_EVERY_S:
            return
        self._written_at = now
        if not claims.renew_claim(
            self._job, progress_percent=max(0, min(100, round(percent))), progress_text=text[:200]
        ):
            raise JobCancelled(str(self.job_id))

    def storing(self):
        """A transaction that re-checks the claim under a row lock."""
        return claims.storing_under_claim(self._job)

    def keep_alive(self) -> None:
        """Renew the lease; called by the heartbeat, from its own thread."""
        if time.monotonic() > self._deadline + HARD_LIMIT_MARGIN_S:
            # A thread cannot be killed. Its job can be ended, and what it stores later is refused.
            claims.time_limit_reached(self._job)
            self._lost.set()
        elif not self._lost.is_set() and not claims.renew_claim(self._job):
            self._lost.set()

    def _check_wanted(self) -> None:
        if self._lost.is_set():
            raise JobCancelled(str(self.job_id))
        if stopping.is_set():
            raise JobInterrupted(str(self.job_id))
        if time.monotonic() > self._deadline:
            raise SoftTimeLimitExceeded(self._job.time_limit_s)


def execute_job(job_id, *, claimed_by: str) -> None:
    """Make one attempt, if the job can be claimed; a job that cannot has been taken or ended."""
    job = claims.claim_job(job_id, claimed_by=claimed_by)
    if job is None:
        logger.info("Job %s is not there to be claimed.", job_id)
        return
    run = ClaimedRun(job)
    with Ticker(claims.HEARTBEAT_S, run.keep_alive, name=f"heartbeat of job {job.pk}"):
        _run_handler(job, run)


def _run_handler(job: Job, run: ClaimedRun) -> None:
    try:
        outcome = handler_for(job.kind).function(run)
        claims.finish_job(job, outcome=outcome or {})
    except JobCancelled:
        logger.info("Job %s lost its claim; nothing more is stored.", job.pk)
    except JobInterrupted:
        claims.release_job(job)
    except SoftTimeLimitExceeded:
        claims.time_limit_reached(job)
    except LabError as refusal:
        claims.fail_job(job, code=refusal.code, text=refusal.message)
    except Exception as fault:
        logger.exception("Job %s (%s) failed in attempt %d.", job.pk, job.kind, job.attempts)
        claims.retry_later(
            job,
            code=claims.PROGRAM_FAULT,
            text=f"The program failed ({type(fault).__name__}); the log tells more under job {job.pk}.",
        )
