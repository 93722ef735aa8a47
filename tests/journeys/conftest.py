"""Fixtures of journeys."""

import pytest


@pytest.fixture
def job_runner(transactional_db, tmp_path):
    """The runner thread of an embedded lab, after which jobs can be run in this process again."""
    from labsite.jobs.execution import stopping
    from labsite.jobs.runner import EmbeddedRunner

    runner = EmbeddedRunner(lock_path=tmp_path / "runner.lock")
    runner.start()
    yield runner
    runner.stop()
    stopping.clear()  # or every later attempt of this process would take itself for a stopping one
