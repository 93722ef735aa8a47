"""Drill jobs: that work, that trust to the claim alone, that pass work on, that kill, that hang."""

import os
import signal
import time

from labsite.accounts.services import record_audit
from labsite.jobs.registry import JobRun, job_handler
from labsite.jobs.services import submit_job
from tests.services.models import DrillResult, DrillStart


def _start(run: JobRun) -> None:
    DrillStart.objects.create(job_id=run.job_id, attempt=run.attempt, pid=os.getpid())


def _work(run: JobRun) -> None:
    seconds = run.subject["seconds"]
    began = time.monotonic()
    while (spent := time.monotonic() - began) < seconds:
        run.progress(100 * spent / seconds, "Working")
        time.sleep(0.02)


def _store(run: JobRun) -> None:
    result = DrillResult.objects.create(job_id=run.job_id, attempt=run.attempt)
    record_audit(actor=None, action="store drill result", subject=result)


@job_handler("drill_work", time_limit_s=60)
def work(run: JobRun) -> dict:
    """Work for a while, then store unless an earlier attempt did, as every handler should."""
    _start(run)
    _work(run)
    with run.storing():
        if not DrillResult.objects.filter(job_id=run.job_id).exists():
            _store(run)
    return {}


@job_handler("drill_trusting", time_limit_s=60)
def work_trusting(run: JobRun) -> dict:
    """Store without looking: only the claim stands between this and doubles."""
    _start(run)
    _work(run)
    with run.storing():
        _store(run)
    return {}


@job_handler("drill_relay", time_limit_s=60)
def pass_on(run: JobRun) -> dict:
    """Submit another job, as a fit does that changes a pooled result."""
    _start(run)
    with run.storing():
        submit_job(kind="drill_work", subject={"seconds": 0, "from": str(run.job_id)}, label="Passed on")
    return {}


@job_handler("drill_poison", time_limit_s=60)
def kill_own_process(run: JobRun) -> dict:
    """End as the kernel ends a process that has taken all memory."""
    _start(run)
    os.kill(os.getpid(), signal.SIGKILL)


@job_handler("drill_hang", time_limit_s=1)
def hang(run: JobRun) -> dict:
    """Hear neither the soft limit nor progress, as a long call into a library would not."""
    _start(run)
    signal.signal(signal.SIGUSR1, signal.SIG_IGN)
    time.sleep(600)
