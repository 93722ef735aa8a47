"""What is put right every few seconds: dead claims, lost messages, the canary, jobs due every so often.

Any number of sweeps may run at once: each step is a filtered UPDATE that one of them wins.
"""

import logging
from datetime import datetime, timedelta

from django.conf import settings
from django.db.models import Q
from django.utils import timezone

from labsite.jobs.models import Job
from labsite.jobs.queries import CANARY, claimable_jobs
from labsite.jobs.registry import recurring_handlers
from labsite.jobs.services import sending
from labsite.jobs.services.claims import process_lost
from labsite.jobs.services.submission import submit_job

logger = logging.getLogger(__name__)

# Two sweeps and a reconnection fit into the half minute in which a broken broker may hold a job up.
SWEEP_S = 10
#: A message is taken from an idle broker within milliseconds; after so long it is lost.
RESEND_AFTER = timedelta(seconds=10)
#: While messages wait at the broker the row's own is probably one of them, but not for ever.
RESEND_AFTER_WHEN_BUSY = timedelta(minutes=10)
CANARY_EVERY = timedelta(seconds=60)
KEEP_CANARIES = timedelta(days=1)
#: The record of so many rounds is kept of a job that is due every so often.
KEEP_ROUNDS = 7


def sweep() -> None:
    """One round."""
    now = timezone.now()
    free_dead_claims(now)
    send_canary(now)
    submit_due_jobs(now)
    resend_lost_jobs(now)


def free_dead_claims(now: datetime) -> int:
    """Put running jobs whose lease ran out back in the line, or end them at the attempt cap."""
    dead = Job.objects.filter(state=Job.State.RUNNING, lease_until__lt=now)
    # The lease was pause enough; without another, this very sweep sends the job again.
    return sum(process_lost(job, pause_s=0) for job in dead)


def free_orphans(claimant_prefix: str) -> int:
    """The same for every running job of a claimant known to be dead, without waiting for the lease."""
    orphans = Job.objects.filter(state=Job.State.RUNNING, claimed_by__startswith=claimant_prefix)
    return sum(process_lost(job, pause_s=0) for job in orphans)


def resend_lost_jobs(now: datetime) -> int:
    """Announce waiting jobs whose message is not on its way; the number sent."""
    if settings.MODE == "embedded":
        sending.work_waits.set()
        return 0
    if not _unsent(now, RESEND_AFTER).exists():
        return 0
    length = sending.line_length()
    if length is None:
        return 0
    lost = _unsent(now, RESEND_AFTER_WHEN_BUSY if length else RESEND_AFTER)
    sent = 0
    for job in lost.order_by("created_at").only("pk", "time_limit_s"):
        # Won by one sweep only; the filter is evaluated again by the UPDATE.
        if not lost.filter(pk=job.pk).update(sent_at=now):
            continue
        if not sending.send_job(job.pk, job.time_limit_s):
            Job.objects.filter(pk=job.pk).update(sent_at=None)
            break
        sent += 1
    if sent:
        logger.info("Sent %d waiting jobs to the broker again.", sent)
    return sent


def send_canary(now: datetime) -> Job | None:
    """Once a minute, a job that does nothing; that it comes through shows that jobs are run."""
    canaries = Job.objects.filter(kind=CANARY)
    if canaries.filter(created_at__gt=now - CANARY_EVERY).exists():
        return None
    canaries.filter(state__in=Job.ENDED, created_at__lt=now - KEEP_CANARIES).delete()
    return submit_job(kind=CANARY, subject={}, label="Check that jobs are run", dedupe_key=CANARY)


def submit_due_jobs(now: datetime) -> int:
    """Submit each job that is due every so often and was not submitted since; how many."""
    submitted = 0
    for handler in recurring_handlers():
        rounds = Job.objects.filter(kind=handler.kind, requested_by=None)
        if rounds.filter(created_at__gt=now - handler.every).exists():
            continue
        rounds.filter(state__in=Job.ENDED, created_at__lt=now - KEEP_ROUNDS * handler.every).delete()
        submit_job(kind=handler.kind, subject={}, label=handler.label, dedupe_key=handler.kind)
        submitted += 1
    return submitted


def _unsent(now: datetime, age: timedelta):
    return claimable_jobs(now).filter(Q(sent_at=None) | Q(sent_at__lt=now - age))
