"""What is killed: the worker and all its children, one child by its own job, one child by the time limit.

Real Celery workers on a real PostgreSQL and a real Redis. In the ordinary run the waiting times are a
twentieth of the product's; the full counts use the product's own.
"""

import pytest

from tests.services.drill_lab import wait_until

pytestmark = [pytest.mark.services, pytest.mark.xdist_group("drills")]

FULL = pytest.mark.full


def assert_stored_once(lab, ids):
    """One result and one audit record for each job."""
    assert lab.count("drillresult", ids) == len(ids)
    per_job = "SELECT job_id, count(*) FROM drills_drillresult WHERE job_id = ANY(%s) GROUP BY 1"
    assert {count for _, count in lab.rows(per_job, list(ids))} == {1}
    audits = """SELECT count(*) FROM accounts_auditrecord WHERE subject_type = 'drills.drillresult'
        AND subject_id IN (SELECT id::text FROM drills_drillresult WHERE job_id = ANY(%s))"""
    assert lab.rows(audits, list(ids)) == [(len(ids),)]


@pytest.mark.parametrize("rounds", [1, pytest.param(5, marks=FULL)])
def test_a_killed_worker_s_jobs_finish_once(lab, rounds):
    """Four jobs are killed in each round; each is done within 90 s of the new worker's start."""
    slowest_s = 0.0
    for _ in range(rounds):
        ids = lab.submit("drill_work", 4, seconds=1.5)["ids"]
        lab.wait_for_state(ids, "running", 10)
        lab.kill_worker()
        assert set(lab.states(ids)) == {"running"}, "killed in the middle"
        lab.start_worker(children=4)
        slowest_s = max(slowest_s, lab.wait_for_state(ids, "done", 90 / min(lab.speed, 4)))
        assert_stored_once(lab, ids)
        attempts = lab.rows("SELECT DISTINCT attempts FROM jobs_job WHERE id = ANY(%s)", ids)
        assert attempts == [(2,)]
    print(f"slowest: {slowest_s:.1f} s")


@pytest.mark.parametrize("count", [2, pytest.param(10, marks=FULL)])
def test_a_poisonous_job_fails_after_three_attempts_and_holds_up_no_other(lab, count):
    """SIGKILL from within, as the kernel does when memory runs out; other jobs are at most 30 s late."""
    poison = lab.submit("drill_poison", count)["ids"]
    others = lab.submit("drill_work", count, seconds=0.1)["ids"]
    print(f"others: {lab.wait_for_state(others, 'done', 30):.1f} s")
    print(f"poison: {lab.wait_for_state(poison, 'failed', 120):.1f} s")
    assert lab.count("drillstart", poison) == 3 * count
    reasons = lab.rows("SELECT DISTINCT attempts, error_code FROM jobs_job WHERE id = ANY(%s)", poison)
    assert reasons == [(3, "process_lost")]
    assert_stored_once(lab, others)


def test_a_child_born_late_can_send_jobs_of_its_own(lab):
    """It is forked while the worker's sweep holds connections; it must not use those."""
    poison = lab.submit("drill_poison", 2)["ids"]
    lab.wait_for_state(poison, "failed", 60)
    relays = lab.submit("drill_relay", 8)["ids"]
    lab.wait_for_state(relays, "done", 20)
    passed_on = "SELECT id FROM jobs_job WHERE subject ->> 'from' = ANY(%s)"
    ids = [job_id for (job_id,) in lab.rows(passed_on, relays)]
    assert len(ids) == 8
    lab.wait_for_state(ids, "done", 20)


@pytest.mark.parametrize("count", [2, pytest.param(10, marks=FULL)])
def test_a_job_that_hears_nothing_is_killed_at_its_hard_limit(lab, count):
    """FAILED within the limit and 60 s, none left running, and the worker goes on."""
    ids = lab.submit("drill_hang", count)["ids"]
    limit_s = 1 + 5
    lab.wait_for_state(ids, "failed", limit_s * count + 60)
    took = """SELECT max(finished_at - started_at) < interval '66 s', min(error_code), max(error_code)
        FROM jobs_job WHERE id = ANY(%s)"""
    assert lab.rows(took, ids) == [(True, "time_limit", "time_limit")]
    assert lab.count("drillstart", ids) == count, "a job that overran is not tried again"
    after = lab.submit("drill_work", 4)["ids"]
    lab.wait_for_state(after, "done", 30)


@pytest.mark.parametrize("count", [3, pytest.param(20, marks=FULL)])
def test_a_job_delivered_six_times_at_once_runs_once(lab, private_redis, count):
    """The drill job does not look for earlier results: its claim alone prevents doubles."""
    from celery import Celery

    ids = lab.submit("drill_trusting", count, seconds=0.3)["ids"]
    with Celery("drill", broker=private_redis.url) as sender:
        for job_id in ids:
            for _ in range(6):
                sender.send_task("labsite.jobs.run_job", args=[job_id])
        lab.wait_for_state(ids, "done", 30)
        wait_until(
            lambda: sender.connection().default_channel.client.llen("celery") == 0, 10, "line is empty"
        )
    assert_stored_once(lab, ids)
    assert lab.count("drillstart", ids) == count


def test_a_worker_that_is_asked_to_stop_ends_its_jobs_first(lab):
    """SIGTERM is how a container engine stops it."""
    ids = lab.submit("drill_work", 2, seconds=1)["ids"]
    lab.wait_for_state(ids, "running", 10)
    lab.worker.terminate()
    lab.worker.wait(20)
    assert lab.states(ids) == ["done", "done"]
    assert lab.count("drillstart", ids) == 2
