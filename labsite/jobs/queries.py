"""Reading of job rows: what a person may see, what may be claimed, and whether jobs are run at all."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import F, Q, QuerySet
from django.utils import timezone

from labsite.common.access import is_member
from labsite.jobs.models import Job

#: The kind of the job that only proves that jobs are run.
CANARY = "canary"
#: Three canaries missed.
CANARY_LATE_S = 180


def visible_jobs(user) -> QuerySet[Job]:
    """Jobs of the whole lab for its members, none for anybody else; canaries are nobody's work."""
    if not is_member(user):
        return Job.objects.none()
    return Job.objects.exclude(kind=CANARY).select_related("requested_by")


def claimable_jobs(now: datetime) -> QuerySet[Job]:
    """Jobs that wait and may start now."""
    due = Q(not_before=None) | Q(not_before__lte=now)
    return Job.objects.filter(due, state=Job.State.QUEUED, attempts__lt=F("max_attempts"))


@dataclass(frozen=True)
class QueueHealth:
    """Whether jobs are run: ``state`` is "starting", "ok", "busy" or "stalled"."""

    state: str
    canary_age_s: float | None
    waiting: int
    running: int

    @property
    def is_well(self) -> bool:
        """False when jobs wait and nothing runs them."""
        return self.state != "stalled"


def queue_health(now: datetime | None = None) -> QueueHealth:
    """Judge by the age of the last canary that came through, never by asking a worker.

    A worker can answer and yet take no job. A canary that waits behind long jobs proves nothing while
    one of them holds a live claim.
    """
    now = now or timezone.now()
    canaries = Job.objects.filter(kind=CANARY)
    passed = canaries.filter(state=Job.State.DONE).order_by("-finished_at").first()
    first = canaries.order_by("created_at").first()
    age_s = (now - passed.finished_at).total_seconds() if passed else None
    running = Job.objects.filter(state=Job.State.RUNNING, lease_until__gt=now).count()
    waiting = Job.objects.filter(state=Job.State.QUEUED).exclude(kind=CANARY).count()
    late = timedelta(seconds=CANARY_LATE_S)
    if age_s is not None and age_s <= CANARY_LATE_S:
        state = "ok"
    elif running:
        state = "busy"
    elif passed is None and (first is None or now - first.created_at <= late):
        state = "starting"
    else:
        state = "stalled"
    return QueueHealth(state, age_s, waiting, running)
