"""The job row: the truth about a piece of work, whatever the broker or the process remembers."""

import uuid

from django.conf import settings
from django.core.serializers.json import DjangoJSONEncoder
from django.db import models
from django.db.models import F, Q
from django.urls import reverse


class Job(models.Model):
    """One piece of work: who wants it, how far it is, who has claimed it and how it ended.

    A running row carries a random claim token and a lease. Whoever holds the token may write progress
    and results; a lease that runs out frees the row for another attempt.
    """

    class State(models.TextChoices):
        """The life of a job; the last three are its ends."""

        QUEUED = "queued", "Waiting"
        RUNNING = "running", "Running"
        DONE = "done", "Done"
        FAILED = "failed", "Failed"
        CANCELLED = "cancelled", "Cancelled"

    ENDED = (State.DONE, State.FAILED, State.CANCELLED)

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    kind = models.CharField(max_length=60)
    subject = models.JSONField(default=dict, encoder=DjangoJSONEncoder)
    label = models.CharField(max_length=200)
    state = models.CharField(max_length=10, choices=State, default=State.QUEUED)
    attempts = models.PositiveSmallIntegerField(default=0)
    max_attempts = models.PositiveSmallIntegerField(default=3)
    time_limit_s = models.PositiveIntegerField(default=60)
    not_before = models.DateTimeField(null=True, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    claim_token = models.UUIDField(null=True, blank=True, editable=False)
    claimed_by = models.CharField(max_length=100, blank=True)
    lease_until = models.DateTimeField(null=True, blank=True)
    progress_percent = models.PositiveSmallIntegerField(default=0)
    progress_text = models.CharField(max_length=200, blank=True)
    outcome = models.JSONField(null=True, blank=True, encoder=DjangoJSONEncoder)
    error_code = models.CharField(max_length=60, blank=True)
    error_text = models.TextField(blank=True)
    requested_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="jobs"
    )
    dedupe_key = models.CharField(max_length=200, blank=True)
    link = models.CharField(max_length=300, blank=True)
    created_at = models.DateTimeField(auto_now_add=True)
    started_at = models.DateTimeField(null=True, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("-created_at",)
        indexes = (
            models.Index(fields=("state", "created_at"), name="job_state_created"),
            models.Index(fields=("-created_at",), name="job_newest"),
            models.Index(fields=("dedupe_key",), name="job_queued_key", condition=Q(state="queued")),
        )
        constraints = (
            models.CheckConstraint(
                name="job_state_known",
                condition=Q(state__in=("queued", "running", "done", "failed", "cancelled")),
            ),
            models.CheckConstraint(name="job_percent_range", condition=Q(progress_percent__lte=100)),
            models.CheckConstraint(name="job_attempts_capped", condition=Q(attempts__lte=F("max_attempts"))),
            models.CheckConstraint(
                name="job_claimed_while_running",
                condition=Q(state="running", claim_token__isnull=False, lease_until__isnull=False)
                | (~Q(state="running") & Q(claim_token__isnull=True)),
            ),
        )

    def __str__(self):
        return self.label

    def get_absolute_url(self):
        """The page of this job."""
        return reverse("jobs:detail", args=[self.pk])

    @property
    def is_ended(self) -> bool:
        """Whether nothing more will happen unless somebody asks for a retry."""
        return self.state in self.ENDED

    @property
    def progress_mark(self) -> str:
        """Changes whenever a page that shows progress would."""
        return f"{self.state} {self.attempts} {self.progress_percent} {self.progress_text}"

    @property
    def duration_s(self) -> float | None:
        """How long the last attempt took, in seconds."""
        if self.started_at is None or self.finished_at is None:
            return None
        return (self.finished_at - self.started_at).total_seconds()
