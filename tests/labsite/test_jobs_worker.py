"""What a Celery worker's main process does when it learns that a child is gone."""

import time

import pytest
from celery.exceptions import TimeLimitExceeded, WorkerLostError

from labsite.jobs import worker
from labsite.jobs.services.claims import claim_job
from labsite.jobs.tasks import run_job
from labsite.jobs.ticking import Ticker
from tests.factories.jobs import drill_job, job_kind

# Its connections are closed afterwards, since children may be forked at any time.
pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def claimed(monkeypatch):
    """A job that a child runs under the message "message 1"."""
    job_kind(monkeypatch, lambda run: {})
    return claim_job(drill_job().pk, claimed_by="message 1")


def settle(job, exception, task_id="message 1"):
    worker.settle_killed_child(sender=run_job, task_id=task_id, exception=exception, args=[str(job.pk)])
    job.refresh_from_db()
    return job.state, job.error_code


def test_the_job_of_a_killed_child_is_free_at_once(claimed):
    assert settle(claimed, WorkerLostError("signal 9")) == ("queued", "process_lost")
    assert (claimed.attempts, claimed.sent_at) == (1, None)


def test_the_job_of_a_child_killed_at_its_limit_is_not_tried_again(claimed):
    assert settle(claimed, TimeLimitExceeded(65)) == ("failed", "time_limit")


def test_a_fault_that_the_child_has_settled_itself_changes_nothing(claimed):
    assert settle(claimed, RuntimeError("told already")) == ("running", "")


def test_a_claim_under_another_message_is_left_alone(claimed):
    assert settle(claimed, WorkerLostError("signal 9"), task_id="message 2") == ("running", "")


def test_a_worker_sweeps_from_its_start_to_its_end(monkeypatch):
    sweeps = []
    monkeypatch.setattr(worker, "sweeper", Ticker(60, lambda: sweeps.append(1), name="sweep", at_once=True))
    worker.start_sweeping()
    worker.start_sweeping()  # the signal comes again when a consumer is built anew
    worker.sweeper.stop()
    worker.stop_sweeping()
    assert sweeps == [1]


def test_a_failed_call_does_not_end_a_ticker(caplog):
    calls = []

    def fail_once():
        calls.append(1)
        if len(calls) == 1:
            raise OSError("not now")

    with Ticker(0.01, fail_once, name="trial"):
        for _ in range(500):
            if len(calls) > 1:
                break
            time.sleep(0.01)
    assert len(calls) > 1
    assert "trial failed" in caplog.text
