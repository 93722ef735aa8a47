"""The health answers: pages follow the database, jobs follow the canary."""

from datetime import timedelta

import pytest
from django.db import DatabaseError, connection
from django.utils import timezone

from labsite.jobs.models import Job
from labsite.jobs.queries import CANARY, CANARY_LATE_S


def canary(age_s):
    """A canary job that came through so long ago."""
    at = timezone.now() - timedelta(seconds=age_s)
    job = Job.objects.create(kind=CANARY, label="Canary", state=Job.State.DONE, finished_at=at)
    Job.objects.filter(pk=job.pk).update(created_at=at)


@pytest.mark.django_db
def test_all_is_well_while_canaries_come_through(client):
    canary(age_s=20)
    for address in ("/healthz/", "/healthz/jobs/"):
        response = client.get(address)
        assert response.status_code == 200
        body = response.json()
        assert body["database"] == "ok"
        assert body["jobs"]["state"] == "ok"
        assert 20 <= body["jobs"]["canary_age_s"] <= 25


@pytest.mark.django_db
def test_stalled_jobs_are_an_alarm_but_leave_the_pages_up(client):
    canary(age_s=CANARY_LATE_S + 60)
    assert client.get("/healthz/").status_code == 200
    response = client.get("/healthz/jobs/")
    assert response.status_code == 503
    assert response.json()["jobs"]["state"] == "stalled"


@pytest.mark.django_db
def test_a_database_that_does_not_answer_is_down(client, monkeypatch):
    def refuse():
        raise DatabaseError("gone")

    monkeypatch.setattr(connection, "cursor", refuse)
    response = client.get("/healthz/")
    assert response.status_code == 503
    assert response.json() == {"database": "down"}
