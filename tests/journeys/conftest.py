"""Fixtures of journeys."""

import pytest


@pytest.fixture
def job_runner(transactional_db, tmp_path):
    """The runner thread of an embedded lab."""
    from labsite.jobs.runner import EmbeddedRunner

    runner = EmbeddedRunner(lock_path=tmp_path / "runner.lock")
    runner.start()
    yield runner
    runner.stop()
