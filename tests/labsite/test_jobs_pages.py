"""Pages of jobs: for members, of the whole lab; progress that stops asking once the job has ended."""

from datetime import timedelta

import pytest
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone

from labsite.jobs.models import Job
from labsite.jobs.services.claims import claim_job, fail_job, finish_job, renew_claim
from labsite.jobs.services.sweeping import send_canary
from tests.factories.jobs import drill_job, job_kind


@pytest.fixture(autouse=True)
def drill(monkeypatch):
    job_kind(monkeypatch, lambda run: {})


def running(job: Job) -> Job:
    return claim_job(job.pk, claimed_by="worker")


def url(name, job):
    return reverse(f"jobs:{name}", args=[job.pk])


def test_a_member_sees_the_lab_s_jobs_and_filters_them(
    client_for, owner, labmate, django_assert_max_num_queries
):
    for number in range(4):
        drill_job(label=f"Fit roll {number}", requested_by=owner if number % 2 else labmate)
    cancelled = drill_job(label="Fit the odd one", requested_by=owner)
    Job.objects.filter(pk=cancelled.pk).update(state="cancelled")
    send_canary(timezone.now())
    client = client_for(owner)
    with django_assert_max_num_queries(12):
        page = client.get(reverse("jobs:list"))
    assert page.status_code == 200
    assert page.context["page"][0].label == "Fit the odd one"
    assert len(page.context["page"]) == 5, "the canary is nobody's work"
    assert len(client.get(reverse("jobs:list"), {"whose": "me"}).context["page"]) == 3
    mine_waiting = client.get(reverse("jobs:list"), {"whose": "me", "state": "queued"})
    assert len(mine_waiting.context["page"]) == 2
    assert client.get(reverse("jobs:list"), {"state": "no such"}).status_code == 200


def test_the_list_is_paged(client_for, owner):
    for number in range(51):
        drill_job(label=f"Job {number}")
    page = client_for(owner).get(reverse("jobs:list"), {"page": 2})
    assert [job.label for job in page.context["page"]] == ["Job 0"]


def test_the_list_says_when_nothing_runs_the_jobs(client_for, owner):

    send_canary(timezone.now())
    assert b"not being run" not in client_for(owner).get(reverse("jobs:list")).content
    Job.objects.update(created_at=timezone.now() - timedelta(minutes=10))
    assert b"not being run" in client_for(owner).get(reverse("jobs:list")).content


def test_visitors_are_refused(client_for, visitor):
    job = drill_job()
    client = client_for(visitor)
    for address in (reverse("jobs:list"), url("detail", job)):
        answer = client.get(address)
        assert (answer.status_code, answer.url.split("?")[0]) == (302, "/account/sign-in/")
    for name in ("cancel", "retry"):
        assert client.post(url(name, job)).status_code == 403
    job.refresh_from_db()
    assert job.state == "queued"


def test_a_session_that_ends_while_a_page_polls_leads_to_the_sign_in(client_for, visitor):
    answer = client_for(visitor).get(url("progress", drill_job()), headers={"HX-Request": "true"})
    assert (answer.status_code, answer["HX-Refresh"]) == (403, "true")


def test_progress_polls_while_the_job_runs_and_stops_when_it_ended(client_for, owner):
    claimed = running(drill_job(link="/rolls/7/"))
    renew_claim(claimed, progress_percent=40, progress_text="Fitting & weighing")
    client = client_for(owner)
    answer = client.get(url("progress", claimed)).content.decode()
    assert 'hx-trigger="every 1s"' in answer
    assert 'value="40"' in answer
    assert "Fitting &amp; weighing" in answer
    finish_job(claimed, outcome={})
    answer = client.get(url("progress", claimed)).content.decode()
    assert "hx-get" not in answer
    assert 'href="/rolls/7/"' in answer


def test_progress_sends_nothing_that_the_page_has_seen(client_for, owner):
    """A live region that is written anew each second would be read out each second."""
    claimed = running(drill_job())
    renew_claim(claimed, progress_percent=40, progress_text="Fitting; 2 of 3 +")
    client = client_for(owner)
    first = client.get(url("progress", claimed)).content.decode()
    asked_next = first.split('hx-get="')[1].split('"')[0]
    assert client.get(asked_next).status_code == 204
    renew_claim(claimed, progress_percent=41)
    assert client.get(asked_next).status_code == 200


@pytest.mark.parametrize(
    ("end", "page", "is_refreshed"),
    [
        ("done", "/rolls/7/", True),
        ("done", "/lab/jobs/", False),
        ("done", None, False),
        ("done", "its own", True),
        ("failed", "/rolls/7/", False),
        ("failed", "its own", True),
        ("running", "its own", False),
    ],
)
def test_the_page_that_waits_for_the_result_is_loaded_again(client_for, owner, end, page, is_refreshed):
    claimed = running(drill_job(link="/rolls/7/"))
    if end == "done":
        finish_job(claimed, outcome={})
    elif end == "failed":
        fail_job(claimed, code="x", text="y")
    page = url("detail", claimed) if page == "its own" else page
    headers = {"HX-Request": "true"} | ({"HX-Current-URL": f"http://testserver{page}"} if page else {})
    answer = client_for(owner).get(url("progress", claimed), headers=headers)
    assert (answer.get("HX-Refresh") == "true") == is_refreshed


def test_the_component_stands_on_its_own():
    job = Job(kind="drill", label="Fit <b>")
    text = render_to_string("components/job_progress.html", {"job": job})
    assert 'aria-live="polite"' in text
    assert "Fit &lt;b&gt;" in text
    assert "<script" not in text


def test_a_failed_job_tells_why_and_can_be_tried_again_by_its_asker(client_for, owner, labmate):
    claimed = running(drill_job(requested_by=owner))
    fail_job(claimed, code="no_density", text="Step 3 has no density.")
    page = client_for(owner).get(url("detail", claimed)).content.decode()
    assert "Step 3 has no density." in page
    assert url("retry", claimed) in page
    assert url("retry", claimed) not in client_for(labmate).get(url("detail", claimed)).content.decode()
    assert client_for(labmate).post(url("retry", claimed)).status_code == 403
    answer = client_for(owner).post(url("retry", claimed), follow=True)
    assert "waits to be run again" in answer.content.decode()
    claimed.refresh_from_db()
    assert claimed.state == "queued"


def test_cancelling_what_has_ended_meanwhile_says_so(client_for, owner):
    job = drill_job(requested_by=owner)
    client = client_for(owner)
    assert url("cancel", job) in client.get(url("detail", job)).content.decode()
    finish_job(running(job), outcome={})
    answer = client.post(url("cancel", job), follow=True)
    assert "has ended already" in answer.content.decode()
    job.refresh_from_db()
    assert job.state == "done"


def test_what_changes_things_is_never_a_link(client_for, owner):
    job = drill_job(requested_by=owner)
    for name in ("cancel", "retry"):
        answer = client_for(owner).get(url(name, job))
        assert (answer.status_code, answer.url) == (302, url("detail", job))
    job.refresh_from_db()
    assert job.state == "queued"
