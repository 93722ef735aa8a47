"""A job is a row of its cause's transaction; telling the broker comes after and may fail."""

import threading

import pytest
from django.db import transaction
from django.utils import timezone

from labsite.accounts.models import AuditRecord
from labsite.common.errors import NotAllowed, WrongState
from labsite.jobs.models import Job
from labsite.jobs.registry import MAX_TIME_LIMIT_S, UnknownKind, job_handler
from labsite.jobs.services import cancel_job, retry_job, sending, submit_job
from labsite.jobs.services.claims import claim_job
from tests.factories.jobs import drill_job, job_kind


@pytest.fixture(autouse=True)
def drill(monkeypatch):
    job_kind(monkeypatch, lambda run: {})


@pytest.fixture
def broker(monkeypatch, settings):
    """A broker that records what is sent, or refuses it."""

    class Broker:
        is_down = False
        sent = ()

        def send_task(self, name, args, producer, **options):
            if self.is_down:
                raise OSError("refused")
            self.sent = (*self.sent, (name, *args, options))

    settings.MODE = "production"
    monkeypatch.setattr(sending, "_quiet_until", 0.0)
    broker = Broker()
    monkeypatch.setattr(sending.app, "send_task", broker.send_task)
    return broker


def test_only_the_id_is_sent_and_only_on_commit(db, broker, django_capture_on_commit_callbacks):
    with django_capture_on_commit_callbacks() as callbacks:
        job = drill_job(subject={"secret": 7})
    assert (job.state, job.attempts, job.sent_at is not None) == ("queued", 0, True)
    assert broker.sent == ()
    callbacks[0]()
    limits = {"soft_time_limit": 5, "time_limit": 10}
    assert broker.sent == (("labsite.jobs.run_job", str(job.pk), limits),)


@pytest.mark.django_db(transaction=True)
def test_a_rolled_back_cause_leaves_neither_row_nor_message(broker):
    with pytest.raises(ZeroDivisionError), transaction.atomic():
        drill_job()
        raise ZeroDivisionError
    assert not Job.objects.exists()
    assert broker.sent == ()


@pytest.mark.django_db(transaction=True)
def test_a_failure_to_send_is_no_failure_to_save(broker):
    broker.is_down = True
    job = drill_job()
    job.refresh_from_db()
    assert (job.state, job.sent_at) == ("queued", None)


@pytest.mark.django_db(transaction=True)
def test_after_a_failed_send_the_next_jobs_do_not_wait_for_the_broker(broker):
    broker.is_down = True
    drill_job()
    broker.is_down = False
    second = drill_job()
    second.refresh_from_db()
    assert broker.sent == ()
    assert second.sent_at is None, "the sweep must see that this one was never sent"


def test_the_embedded_lab_rings_its_own_bell(django_capture_on_commit_callbacks, db):
    sending.work_waits.clear()
    with django_capture_on_commit_callbacks(execute=True):
        drill_job()
    assert sending.work_waits.is_set()


def test_the_same_work_is_queued_once(db):
    first = drill_job(dedupe_key="fit 7")
    assert drill_job(dedupe_key="fit 7") == first
    assert drill_job(dedupe_key="fit 8") != first
    assert drill_job() != drill_job(), "no key, no absorbing"


def test_a_running_job_absorbs_no_new_work(db):
    first = drill_job(dedupe_key="fit 7")
    assert claim_job(first.pk, claimed_by="somebody")
    second = drill_job(dedupe_key="fit 7")
    assert second != first
    assert second.state == "queued"


@pytest.mark.django_db(transaction=True)
def test_an_absorbed_job_cannot_be_claimed_before_the_new_data_is_there():
    """Else the worker reads the old data, and the newer save is never fitted."""
    job = drill_job(dedupe_key="fit 7")
    claims, asked = [], threading.Event()

    def claim():
        from django.db import connection

        asked.set()
        claims.append(claim_job(job.pk, claimed_by="worker"))
        connection.close()

    worker = threading.Thread(target=claim)
    with transaction.atomic():
        drill_job(dedupe_key="fit 7")
        worker.start()
        asked.wait(5)
        worker.join(0.3)
        assert claims == []
    worker.join(5)
    assert claims[0].pk == job.pk


def test_a_kind_without_handler_is_refused_at_once(db):
    with pytest.raises(UnknownKind, match="'nothing'"):
        submit_job(kind="nothing", subject={}, label="Nothing")


def test_no_kind_may_run_past_the_broker_s_patience():
    with pytest.raises(ValueError, match="time limit"):
        job_handler("long", time_limit_s=MAX_TIME_LIMIT_S + 1)


def test_two_modules_cannot_do_the_same_kind():
    def other(run):
        return {}

    other.__module__ = "elsewhere"
    with pytest.raises(ValueError, match="already done by"):
        job_handler("drill")(other)


def test_the_asker_or_an_admin_cancels_and_retries(owner, labmate, admin):
    job = drill_job(requested_by=owner)
    with pytest.raises(NotAllowed):
        cancel_job(actor=labmate, job=job)
    job = cancel_job(actor=owner, job=job)
    assert (job.state, job.finished_at is not None) == ("cancelled", True)
    with pytest.raises(WrongState):
        cancel_job(actor=owner, job=job)
    with pytest.raises(NotAllowed):
        retry_job(actor=labmate, job=job)
    job = retry_job(actor=admin, job=job)
    assert (job.state, job.attempts, job.finished_at, job.error_text) == ("queued", 0, None, "")
    with pytest.raises(WrongState):
        retry_job(actor=admin, job=job)
    history = AuditRecord.objects.filter(subject_id=str(job.pk)).order_by("pk")
    assert [(row.actor, row.action) for row in history] == [(owner, "cancel job"), (admin, "retry job")]


def test_a_retired_account_or_a_visitor_does_neither(stranger, visitor):
    job = drill_job(requested_by=stranger)
    for person in (stranger, visitor):
        with pytest.raises(NotAllowed):
            cancel_job(actor=person, job=job)


def test_a_retried_job_starts_over_with_all_attempts(owner):
    job = drill_job(requested_by=owner)
    Job.objects.filter(pk=job.pk).update(
        state="failed", attempts=3, error_code="x", error_text="y", finished_at=timezone.now()
    )
    job = retry_job(actor=owner, job=job)
    claimed = claim_job(job.pk, claimed_by="worker")
    assert (claimed.attempts, claimed.error_code) == (1, "")


def test_a_label_of_any_length_is_no_reason_to_refuse_the_work(db):
    job = drill_job(label="x" * 300)
    job.refresh_from_db()
    assert len(job.label) == 200
    assert job.label.endswith("…")
