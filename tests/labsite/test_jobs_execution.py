"""One attempt: what a handler may do, and how each way to end leaves the row."""

import threading
import time
from datetime import timedelta

import pytest
from django.utils import timezone

from labsite.accounts.models import Lab
from labsite.common.errors import InvalidInput
from labsite.jobs import execution
from labsite.jobs.models import Job
from labsite.jobs.services import cancel_job, claims
from labsite.jobs.tasks import run_job
from tests.factories.jobs import drill_job, job_kind

pytestmark = pytest.mark.django_db


def attempt(job) -> Job:
    """Run the Celery task as a worker would, and look at the row."""
    run_job.apply(args=[str(job.pk)], task_id="drill worker")
    job.refresh_from_db()
    return job


def due_now(job):
    """Let the pause before the next attempt be over."""
    Job.objects.filter(pk=job.pk).update(not_before=timezone.now())


def test_a_job_that_goes_well(monkeypatch, owner):
    seen = {}

    def handle(run):
        seen.update(subject=run.subject, asker=run.requested_by_id, attempt=run.attempt)
        run.progress(40.4, "Half way")
        row = Job.objects.get(pk=run.job_id)
        seen.update(percent=row.progress_percent, text=row.progress_text, state=row.state)
        return {"made": 3}

    job_kind(monkeypatch, handle)
    job = attempt(drill_job(requested_by=owner))
    assert seen == {
        "subject": {"step": 1},
        "asker": owner.pk,
        "attempt": 1,
        "percent": 40,
        "text": "Half way",
        "state": "running",
    }
    assert (job.state, job.outcome, job.attempts, job.progress_percent) == ("done", {"made": 3}, 1, 100)
    assert (job.claim_token, job.lease_until) == (None, None)
    assert job.started_at <= job.finished_at


def test_a_job_that_is_done_is_not_done_again(monkeypatch):
    runs = []
    job_kind(monkeypatch, lambda run: runs.append(1))
    job = attempt(attempt(drill_job()))
    assert (len(runs), job.attempts, job.state) == (1, 1, "done")


def test_a_refusal_ends_the_job_at_once_in_its_own_words(monkeypatch):
    def refuse(run):
        raise InvalidInput("Step 3 has no density.", code="no_density")

    job_kind(monkeypatch, refuse)
    job = attempt(drill_job())
    assert (job.state, job.attempts, job.error_code) == ("failed", 1, "no_density")
    assert job.error_text == "Step 3 has no density."


def test_a_fault_is_tried_three_times_with_growing_pauses(monkeypatch):
    def break_down(run):
        raise RuntimeError("pixels everywhere")

    job_kind(monkeypatch, break_down)
    job = drill_job()
    for number in (1, 2):
        job = attempt(job)
        assert (job.state, job.attempts, job.sent_at) == ("queued", number, None)
        pause_s = (job.not_before - timezone.now()).total_seconds()
        assert pause_s == pytest.approx(claims.RETRY_PAUSE_S * number, abs=1)  # a slow machine
        assert attempt(job).attempts == number, "claimed before its pause was over"
        due_now(job)
    job = attempt(job)
    assert (job.state, job.attempts, job.error_code) == ("failed", 3, "program_fault")
    assert "RuntimeError" in job.error_text
    assert "Tried 3 times" in job.error_text
    assert "pixels" not in job.error_text, "what a fault says is for the log"


def test_a_fault_that_passes_leaves_no_trace_of_itself(monkeypatch):
    def break_down_once(run):
        if run.attempt == 1:
            raise OSError("disk full")
        return {}

    job_kind(monkeypatch, break_down_once)
    job = attempt(drill_job())
    due_now(job)
    job = attempt(job)
    assert (job.state, job.attempts, job.error_text) == ("done", 2, "")


def test_a_cancelled_job_stops_at_its_next_progress_and_stores_nothing(monkeypatch, owner):
    reached = []

    def handle(run):
        cancel_job(actor=owner, job=Job.objects.get(pk=run.job_id))
        reached.append("before")
        run.progress(50)
        reached.append("after")

    job_kind(monkeypatch, handle)
    job = attempt(drill_job(requested_by=owner))
    assert (job.state, reached) == ("cancelled", ["before"])


def test_a_lost_claim_stores_nothing(monkeypatch):
    def handle(run):
        Job.objects.filter(pk=run.job_id).update(lease_until=timezone.now() - timedelta(seconds=1))
        Job.objects.filter(pk=run.job_id).update(
            state="running", claim_token="00000000-0000-0000-0000-000000000001", claimed_by="another"
        )
        with run.storing():
            Lab.objects.update(name="stored without a claim")
        return {}

    job_kind(monkeypatch, handle)
    job = attempt(drill_job())
    assert (job.state, job.claimed_by) == ("running", "another"), "the other claim was left alone"
    assert not Lab.objects.filter(name="stored without a claim").exists()


def test_storing_is_one_transaction(monkeypatch):
    def handle(run):
        with run.storing():
            Job.objects.filter(pk=run.job_id).update(label="half stored")
            raise InvalidInput("No.")

    job_kind(monkeypatch, handle)
    job = attempt(drill_job())
    assert (job.state, job.label) == ("failed", "Drill")


def test_a_job_past_its_time_limit_fails_without_another_try(monkeypatch):
    def handle(run):
        run._deadline = time.monotonic() - 1
        run.progress(50)

    job_kind(monkeypatch, handle)
    job = attempt(drill_job())
    assert (job.state, job.attempts, job.error_code) == ("failed", 1, "time_limit")
    assert "5 s" in job.error_text


def test_a_process_that_stops_gives_job_and_attempt_back(monkeypatch):
    monkeypatch.setattr(execution, "stopping", threading.Event())

    def handle(run):
        execution.stopping.set()
        run.progress(50)

    job_kind(monkeypatch, handle)
    job = attempt(drill_job())
    assert (job.state, job.attempts, job.not_before, job.sent_at) == ("queued", 0, None, None)


def test_progress_is_written_no_oftener_than_it_is_read(monkeypatch, django_assert_num_queries):
    def handle(run):
        with django_assert_num_queries(1):
            for percent in range(100):
                run.progress(percent)

    monkeypatch.setattr(execution, "PROGRESS_EVERY_S", 60)
    job_kind(monkeypatch, handle)
    assert attempt(drill_job()).state == "done"


def test_progress_stays_a_percentage(monkeypatch):
    monkeypatch.setattr(execution, "PROGRESS_EVERY_S", 0)
    seen = []

    def handle(run):
        for percent in (-5, 120):
            run.progress(percent, "x" * 300)
            seen.append(Job.objects.get(pk=run.job_id).progress_percent)

    job_kind(monkeypatch, handle)
    attempt(drill_job())
    assert seen == [0, 100]


@pytest.mark.django_db(transaction=True)
def test_an_outcome_that_is_no_json_is_a_fault_of_the_program(monkeypatch):
    job_kind(monkeypatch, lambda run: {"made": object()})
    assert attempt(drill_job()).error_code == "program_fault"


def test_a_kind_that_this_process_does_not_know_is_left_for_another(monkeypatch):
    job_kind(monkeypatch, lambda run: {})
    job = drill_job()
    Job.objects.filter(pk=job.pk).update(kind="from a newer version")
    job = attempt(job)
    assert (job.state, job.attempts) == ("queued", 1)


@pytest.mark.django_db(transaction=True)
def test_the_heartbeat_keeps_a_silent_job_s_claim_and_ends_one_that_hangs(monkeypatch):
    """The lease is half as long as the job lives; one that hangs is ended after its limit and the margin."""
    monkeypatch.setattr(claims, "HEARTBEAT_S", 0.05)
    monkeypatch.setattr(claims, "LEASE_S", 0.6)
    monkeypatch.setattr(execution, "HARD_LIMIT_MARGIN_S", 0.2)
    leases = []

    def hang(run):
        for _ in range(30):
            row = Job.objects.get(pk=run.job_id)
            if row.state != "running":
                break
            leases.append(row.lease_until - timezone.now())
            time.sleep(0.1)
        with run.storing():
            Job.objects.filter(pk=run.job_id).update(label="stored too late")

    job_kind(monkeypatch, hang, time_limit_s=1)
    job = attempt(drill_job())
    assert len(leases) > 4
    assert min(leases) > timedelta(0), "the lease ran out under a living job"
    assert (job.state, job.error_code, job.label) == ("failed", "time_limit", "Drill")
