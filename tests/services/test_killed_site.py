"""The embedded site is one process: killed in the middle of a job, its next start finishes the job once."""

import json
import random
import signal
import time

import pytest

from tests.services.embedded_lab import EmbeddedLab

ROUNDS = 20
JOB_S = 0.4


@pytest.fixture
def site(tmp_path):
    """An embedded lab; whatever still serves it is killed afterwards."""
    lab = EmbeddedLab(tmp_path)
    yield lab
    if lab.server is not None and lab.server.poll() is None:
        lab.kill()


@pytest.fixture
def submit(site):
    """``submit(seconds)`` submits a drill job from another process, as a command would; its id."""
    console = site.start("-m", "tests.services.console")
    assert json.loads(console.stdout.readline()) == "ready"

    def submit(seconds):
        command = {"kind": "drill_work", "subject": {"seconds": seconds}}
        console.stdin.write(json.dumps(command) + "\n")
        console.stdin.flush()
        return json.loads(console.stdout.readline())["ids"][0]

    yield submit
    console.stdin.close()
    console.stdout.close()
    console.wait(10)


def test_a_job_is_finished_once_however_often_the_site_is_killed(site, submit):
    """Twenty rounds, each killed at a random moment between a job's start and about its end."""
    moments = random.Random(20)  # seeded, so that a failing run can be had again
    ids, began = [], time.monotonic()
    for _ in range(ROUNDS):
        ids.append(submit(JOB_S))
        site.serve()
        site.wait_for_state(ids[-1], "running")
        time.sleep(moments.uniform(0, JOB_S))
        site.kill()
    site.serve()
    site.wait_for_state(ids[-1], "done")
    took_s = time.monotonic() - began

    jobs = site.rows("SELECT state, attempts FROM jobs_job WHERE kind = 'drill_work'")
    assert [state for state, _ in jobs] == ["done"] * ROUNDS
    assert {attempts for _, attempts in jobs} <= {1, 2}
    killed_running = sum(attempts == 2 for _, attempts in jobs)
    print(f"{ROUNDS} kills in {took_s:.0f} s, {killed_running} in the middle of the job")
    assert killed_running >= ROUNDS // 2, "hardly any was killed in its middle"
    results = site.rows("SELECT job_id, count(*) FROM drills_drillresult GROUP BY job_id")
    assert sorted(results) == sorted((job_id.replace("-", ""), 1) for job_id in ids)
    audits = "SELECT count(*) FROM accounts_auditrecord WHERE action = 'store drill result'"
    assert site.rows(audits) == [(ROUNDS,)]
    assert site.rows("PRAGMA integrity_check") == [("ok",)]


def test_a_site_asked_to_stop_gives_its_job_back_at_once(site, submit):
    """SIGTERM in the middle of a long job: gone within 2 s, and the job is not one attempt poorer."""
    job_id = submit(60)
    site.serve()
    site.wait_for_state(job_id, "running")
    began = time.monotonic()
    assert site.kill(signal.SIGTERM) == 0
    assert time.monotonic() - began < 2
    row = "SELECT state, attempts, claim_token FROM jobs_job WHERE kind = 'drill_work'"
    assert site.rows(row) == [("queued", 0, None)]


def test_of_two_processes_on_one_folder_one_runs_the_jobs_and_the_other_takes_over(site, submit):
    """The second waits for the lock; the first one's death frees it, and the orphaned job runs again."""
    job_id = submit(3)
    site.serve()
    site.wait_for_state(job_id, "running")
    first, site.server = site.server, None
    site.serve()
    time.sleep(1)
    assert len(site.rows("SELECT pid FROM drills_drillstart")) == 1
    second, site.server = site.server, first
    site.kill()
    site.server = second
    site.wait_for_state(job_id, "done")
    pids = [pid for (pid,) in site.rows("SELECT pid FROM drills_drillstart ORDER BY id")]
    assert pids == [first.pid, second.pid]
    assert site.rows("SELECT count(*) FROM drills_drillresult") == [(1,)]
