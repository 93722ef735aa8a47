"""Jobs for scripts: the list, one job, cancelling and trying again."""

import pytest

from labsite.jobs.models import Job
from labsite.jobs.runner import run_waiting_jobs
from tests.factories.jobs import drill_job, job_kind
from tests.factories.scripts import Script


@pytest.fixture(autouse=True)
def drill(monkeypatch, db):
    job_kind(monkeypatch, lambda run: {"step": run.subject["step"]})


def test_a_script_waits_for_its_job(owner):
    job = drill_job(requested_by=owner, link="/rolls/1/")
    script = Script(owner)
    assert script.get(f"jobs/{job.pk}/")["state"] == "queued"
    run_waiting_jobs()
    done = script.get(f"jobs/{job.pk}/")
    assert (done["state"], done["is_ended"], done["outcome"]) == ("done", True, {"step": 1})
    assert (done["requested_by"]["name"], done["link"]) == ("Ola Ownfield", "/rolls/1/")


def test_the_list_is_of_the_whole_lab_and_can_be_narrowed(owner, labmate):
    mine, other = drill_job(requested_by=owner), drill_job(requested_by=labmate)
    script = Script(owner)
    assert {job["id"] for job in script.get("jobs/")["results"]} == {str(mine.pk), str(other.pk)}
    assert [job["id"] for job in script.get("jobs/", "is_mine=true")["results"]] == [str(mine.pk)]
    script.does("post", f"jobs/{mine.pk}/cancel/")
    assert [job["id"] for job in script.get("jobs/", "state=cancelled")["results"]] == [str(mine.pk)]
    assert script.refused("get", "jobs/", status=400, query="state=lost")["field"] == "state"


def test_a_cancelled_job_can_be_tried_again_and_an_ended_one_not_cancelled(owner):
    job = drill_job(requested_by=owner)
    script = Script(owner)
    assert script.does("post", f"jobs/{job.pk}/cancel/")["state"] == "cancelled"
    refusal = script.refused("post", f"jobs/{job.pk}/cancel/", status=409)
    assert (refusal["code"], refusal["message"]) == (
        "wrong_state",
        "This job has ended already (cancelled).",
    )
    assert script.does("post", f"jobs/{job.pk}/retry/")["state"] == "queued"
    assert script.refused("post", f"jobs/{job.pk}/retry/", status=409)["code"] == "wrong_state"


def test_only_who_asked_or_an_admin_stops_a_job(owner, labmate, admin):
    job = drill_job(requested_by=owner)
    refusal = Script(labmate).refused("post", f"jobs/{job.pk}/cancel/", status=403)
    assert refusal["code"] == "not_allowed"
    assert Job.objects.get().state == "queued"
    assert Script(admin).does("post", f"jobs/{job.pk}/cancel/")["state"] == "cancelled"


def test_a_failed_job_says_why(owner, monkeypatch):
    from labsite.common.errors import InvalidInput

    def fail(run):
        raise InvalidInput("There are no readings.", code="empty")

    job_kind(monkeypatch, fail)
    job = drill_job(requested_by=owner)
    run_waiting_jobs()
    failed = Script(owner).get(f"jobs/{job.pk}/")
    assert (failed["state"], failed["error_text"]) == ("failed", "There are no readings.")


def test_a_job_that_there_is_not(owner):
    address = "jobs/00000000-0000-0000-0000-000000000000/"
    assert Script(owner).refused("get", address, status=404)["message"] == "There is no such job."
