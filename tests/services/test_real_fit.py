"""From saved readings to a fitted curve through the real thing: PostgreSQL, Redis, a Celery worker."""

import json

import psycopg
import pytest
from celery import Celery

from tests.services.drill_lab import DrillLab

pytestmark = [pytest.mark.services, pytest.mark.xdist_group("drills")]


@pytest.fixture
def production(private_postgres, private_redis, tmp_path):
    """A lab with the site's own settings and nothing but its own code."""
    lab = DrillLab(private_postgres, private_redis.url, tmp_path, settings="labsite.settings")
    yield lab
    lab.close()


def test_a_worker_fits_a_roll_once_however_often_it_is_told(production, private_redis):
    """The second run finds the stored result by its input digest and adds nothing."""
    scene = json.loads(production.run("tests.services.fit_scene"))
    production.start_worker()
    took_s = production.wait_for_state([scene["job"]], "done", 60)
    print(f"fitted: {took_s:.1f} s")
    stored = production.rows("SELECT id, roll_id, input_digest FROM curves_analysis")
    assert [roll for _, roll, _ in stored] == [scene["roll"]]
    curve = "SELECT count(*) FROM curves_roll WHERE id = %s AND current_analysis_id = %s"
    assert production.rows(curve, scene["roll"], stored[0][0]) == [(1,)]
    history = production.rows("SELECT count(*) FROM accounts_auditrecord")

    with psycopg.connect(production.database_url) as connection:
        connection.execute("UPDATE jobs_job SET state = 'queued', attempts = 0 WHERE id = %s", [scene["job"]])
    with Celery("again", broker=private_redis.url) as sender:
        sender.send_task("labsite.jobs.run_job", args=[scene["job"]])
    production.wait_for_state([scene["job"]], "done", 60)
    assert production.rows("SELECT attempts FROM jobs_job WHERE id = %s", scene["job"]) == [(1,)]
    assert production.rows("SELECT id, roll_id, input_digest FROM curves_analysis") == stored
    assert production.rows("SELECT count(*) FROM accounts_auditrecord") == history
