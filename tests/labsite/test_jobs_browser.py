"""Progress in a real browser under the real content policy: it moves, it ends, it stops asking."""

import threading

import pytest

from labsite.jobs.models import Job
from labsite.jobs.runner import EmbeddedRunner
from tests.factories.jobs import drill_job, job_kind

pytestmark = pytest.mark.journey


@pytest.fixture
def steps(monkeypatch):
    """Let go one after the other: the job begins, the job ends."""
    begin, end = threading.Event(), threading.Event()

    def handle(run):
        begin.wait(20)
        run.progress(40, "Fitting the curve")
        end.wait(20)
        return {}

    job_kind(monkeypatch, handle, time_limit_s=60)
    yield begin, end
    begin.set()
    end.set()


@pytest.fixture
def runner(page_for, tmp_path):
    """An embedded runner beside the live site."""
    runner = EmbeddedRunner(tmp_path / "runner.lock")
    runner.start()
    yield runner
    runner.stop()


def test_progress_moves_and_stops_asking_once_the_job_has_ended(page_for, runner, steps, owner):
    begin, end = steps
    job = drill_job(label="Fit roll 7", requested_by=owner, link="/lab/jobs/")
    page = page_for(owner)
    asked = []
    page.on("request", lambda request: asked.append(request.url) if "/progress/" in request.url else None)
    page.goto(job.get_absolute_url())
    begin.set()
    page.get_by_text("40 %").first.wait_for(timeout=10_000)
    page.get_by_text("Fitting the curve").wait_for()
    assert page.locator("[aria-live=polite] progress").count() == 1
    end.set()
    page.get_by_role("link", name="Open the result").wait_for(timeout=10_000)
    page.get_by_role("button", name="Cancel this job").wait_for(state="detached", timeout=10_000)
    assert page.locator("progress").count() == 0
    number = len(asked)
    page.wait_for_timeout(2500)
    assert len(asked) == number, "an ended job is asked about no more"


def test_the_page_that_waits_for_its_own_result_is_loaded_again(page_for, runner, steps, owner):
    begin, end = steps
    job = drill_job(label="Fit roll 7", requested_by=owner)
    Job.objects.filter(pk=job.pk).update(link=job.get_absolute_url())
    page = page_for(owner)
    page.goto(job.get_absolute_url())
    with page.expect_event("load", timeout=10_000):
        begin.set()
        end.set()
    page.get_by_text("done", exact=True).first.wait_for()
    assert page.locator("[hx-get]").count() == 0


def test_jobs_pages_work_at_320_px_in_both_themes(page_for, runner, steps, owner):
    from axe_playwright_python.sync_playwright import Axe

    job = drill_job(label="Fit roll 7 of the spring series under the second revision", requested_by=owner)
    page = page_for(owner, width=320)
    for theme in ("light", "dark"):
        page.emulate_media(color_scheme=theme)
        for address in (job.get_absolute_url(), "/lab/jobs/"):
            page.goto(address)
            overhang = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
            assert overhang <= 0, f"{address} scrolls sideways by {overhang} px"
            faults = Axe().run(page).response["violations"]
            serious = [fault["id"] for fault in faults if fault["impact"] in ("serious", "critical")]
            assert serious == [], address
