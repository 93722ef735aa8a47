"""Kinds of job for one test, and rows of them."""

from labsite.jobs import registry
from labsite.jobs.models import Job
from labsite.jobs.services import submit_job


def job_kind(monkeypatch, function, *, kind="drill", time_limit_s=5):
    """Make ``function`` the handler of a kind until the test ends."""
    monkeypatch.setitem(registry._handlers, kind, registry.JobHandler(kind, function, time_limit_s))


def drill_job(**fields) -> Job:
    """A waiting job of the kind "drill"."""
    return submit_job(**{"kind": "drill", "subject": {"step": 1}, "label": "Drill"} | fields)
