"""The sweep: dead claims, lost messages, the canary, and what is said about the queue's health."""

from datetime import timedelta

import pytest
from django.utils import timezone

from labsite.jobs.models import Job
from labsite.jobs.queries import CANARY, CANARY_LATE_S, queue_health
from labsite.jobs.registry import JobHandler, recurring_handlers
from labsite.jobs.services import sending, sweeping
from labsite.jobs.services.claims import claim_job, finish_job
from labsite.jobs.services.sweeping import (
    free_dead_claims,
    free_orphans,
    resend_lost_jobs,
    send_canary,
    submit_due_jobs,
    sweep,
)
from labsite.jobs.tasks import run_job
from tests.factories.jobs import drill_job, job_kind

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def drill(monkeypatch):
    job_kind(monkeypatch, lambda run: {})


@pytest.fixture
def broker(monkeypatch, settings):
    """A broker with a line of a given length; it notes what is sent, or takes nothing."""

    class Broker:
        length = 0
        takes = True
        sent = ()

        def send(self, job_id, time_limit_s):
            if self.takes:
                self.sent = (*self.sent, job_id)
            return self.takes

    settings.MODE = "production"
    broker = Broker()
    monkeypatch.setattr(sending, "line_length", lambda: broker.length)
    monkeypatch.setattr(sending, "send_job", broker.send)
    return broker


def dead_claim(attempts=1) -> Job:
    job = drill_job()
    Job.objects.filter(pk=job.pk).update(attempts=attempts - 1)
    claim_job(job.pk, claimed_by="embedded:somebody")
    Job.objects.filter(pk=job.pk).update(lease_until=timezone.now() - timedelta(seconds=1))
    return job


def test_a_lease_that_ran_out_frees_the_job():
    job = dead_claim()
    assert free_dead_claims(timezone.now()) == 1
    job.refresh_from_db()
    assert (job.state, job.claim_token, job.sent_at, job.error_code) == ("queued", None, None, "process_lost")
    assert free_dead_claims(timezone.now()) == 0


def test_the_sweep_that_frees_a_job_sends_it(broker):
    job = dead_claim()
    sweep()
    assert job.pk in broker.sent


def test_a_lease_that_runs_is_left_alone():
    job = drill_job()
    claimed = claim_job(job.pk, claimed_by="worker")
    assert free_dead_claims(timezone.now()) == 0
    assert finish_job(claimed, outcome={})


def test_the_third_dead_claim_ends_the_job_with_its_reason():
    job = dead_claim(attempts=3)
    free_dead_claims(timezone.now())
    job.refresh_from_db()
    assert (job.state, job.error_code) == ("failed", "process_lost")
    assert "killed" in job.error_text
    assert "Tried 3 times" in job.error_text


def test_orphans_of_the_embedded_runner_run_again_at_once():
    job, other = drill_job(), drill_job()
    claim_job(job.pk, claimed_by="embedded:somebody")
    claim_job(other.pk, claimed_by="a worker elsewhere")
    assert free_orphans("embedded:") == 1
    run_job.apply(args=[str(job.pk)])
    job.refresh_from_db()
    other.refresh_from_db()
    assert (job.state, job.attempts, other.state) == ("done", 2, "running")


@pytest.mark.parametrize(
    ("age_s", "length", "is_sent"),
    [
        (None, 0, True),  # never sent: the broker was down
        (5, 0, False),  # on its way
        (11, 0, True),  # the line is empty, so its message is lost
        (11, 3, False),  # one of the three is probably its own
        (601, 3, True),  # but not for ever
        (11, None, False),  # nobody there to send it to
    ],
)
def test_a_waiting_job_is_sent_again_when_its_message_must_be_lost(broker, age_s, length, is_sent):
    now = timezone.now()
    job = drill_job()
    sent_at = None if age_s is None else now - timedelta(seconds=age_s)
    Job.objects.filter(pk=job.pk).update(sent_at=sent_at)
    broker.length = length
    assert resend_lost_jobs(now) == is_sent
    assert broker.sent == ((job.pk,) if is_sent else ())
    assert resend_lost_jobs(now) == 0, "sent twice"


def test_a_broker_that_goes_away_while_sending_leaves_the_rest_for_the_next_sweep(broker):
    jobs = [drill_job() for _ in range(3)]
    Job.objects.update(sent_at=None)
    broker.takes = False
    assert resend_lost_jobs(timezone.now()) == 0
    broker.takes = True
    assert resend_lost_jobs(timezone.now()) == 3
    assert broker.sent == tuple(job.pk for job in jobs)


def test_a_job_in_its_pause_is_not_sent(broker):
    job = drill_job()
    Job.objects.filter(pk=job.pk).update(sent_at=None, not_before=timezone.now() + timedelta(seconds=5))
    assert resend_lost_jobs(timezone.now()) == 0
    assert resend_lost_jobs(timezone.now() + timedelta(seconds=6)) == 1


def test_one_canary_a_minute_and_yesterday_s_are_gone():
    now = timezone.now()
    canary = send_canary(now)
    assert send_canary(now) is None
    run_job.apply(args=[str(canary.pk)])
    old = now - timedelta(days=2)
    Job.objects.filter(pk=canary.pk).update(created_at=old, finished_at=old)
    finished_work = drill_job()
    Job.objects.filter(pk=finished_work.pk).update(state="done", created_at=old, finished_at=old)
    second = send_canary(now)
    assert list(Job.objects.filter(kind=CANARY)) == [second]
    assert Job.objects.filter(pk=finished_work.pk).exists(), "only canaries are pruned"


def test_a_canary_run_twice_adds_nothing():
    canary = send_canary(timezone.now())
    for _ in range(2):
        run_job.apply(args=[str(canary.pk)])
    assert list(Job.objects.values_list("state", "attempts", "outcome")) == [("done", 1, {})]


def test_a_canary_that_waits_is_not_joined_by_more():
    canary = send_canary(timezone.now())
    Job.objects.update(created_at=timezone.now() - timedelta(hours=1))
    assert send_canary(timezone.now()) == canary
    assert Job.objects.filter(kind=CANARY).count() == 1


def test_health_is_told_by_the_canary():
    now = timezone.now()
    assert queue_health(now).state == "starting"
    canary = send_canary(now)
    assert queue_health(now).state == "starting"
    assert queue_health(now + timedelta(seconds=CANARY_LATE_S + 1)).state == "stalled"
    run_job.apply(args=[str(canary.pk)])
    health = queue_health()
    assert (health.state, health.is_well) == ("ok", True)
    assert health.canary_age_s == pytest.approx(0, abs=2)
    late = timezone.now() + timedelta(seconds=CANARY_LATE_S + 1)
    assert not queue_health(late).is_well
    job = drill_job()
    claim_job(job.pk, claimed_by="worker")
    Job.objects.filter(pk=job.pk).update(lease_until=late + timedelta(seconds=30))
    busy = queue_health(late)
    assert (busy.state, busy.running, busy.waiting, busy.is_well) == ("busy", 1, 0, True)


def test_a_whole_round_twice_adds_nothing(broker):
    job = drill_job()
    Job.objects.filter(pk=job.pk).update(sent_at=None)
    sweep()
    sweep()
    every_so_often = len(recurring_handlers())
    assert Job.objects.count() == 2 + every_so_often, "the job, one canary, and what is due once a day"
    assert broker.sent.count(job.pk) == 1


def test_a_job_that_is_due_every_so_often_is_submitted_once_a_round_and_a_week_of_them_kept(monkeypatch):
    day = timedelta(days=1)
    handler = JobHandler("drill", lambda run: {}, 10, every=day, label="Tidy up")
    monkeypatch.setattr(sweeping, "recurring_handlers", lambda: [handler])
    first = timezone.now()
    for number in range(10):
        assert submit_due_jobs(first + number * day + timedelta(seconds=number)) == 1
        job = Job.objects.get(state="queued")
        assert (job.kind, job.label, job.requested_by) == ("drill", "Tidy up", None)
        Job.objects.filter(pk=job.pk).update(state="done", created_at=first + number * day)
        assert submit_due_jobs(first + (number + 0.9) * day) == 0
    assert Job.objects.filter(kind="drill").count() == sweeping.KEEP_ROUNDS
