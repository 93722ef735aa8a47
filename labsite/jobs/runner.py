"""The embedded runner: a thread of the serving process that claims job rows and runs the Celery task.

One process of a data folder runs jobs, the one that holds its lock file; another waits for the lock.
Whoever gets it knows that every running row of an embedded claimant is an orphan. The operating system
drops the lock with the process, however that ends.
"""

import fcntl
import logging
import os
import threading
import time
import uuid
from pathlib import Path

from django.conf import settings
from django.db import connections
from django.utils import timezone

from labsite.celery import HARD_LIMIT_MARGIN_S
from labsite.jobs.execution import stopping
from labsite.jobs.queries import claimable_jobs
from labsite.jobs.services.sending import work_waits
from labsite.jobs.services.sweeping import SWEEP_S, free_orphans, sweep
from labsite.jobs.tasks import run_job
from labsite.jobs.ticking import Ticker

logger = logging.getLogger(__name__)

CLAIMANT = "embedded:"
#: Jobs submitted by another process (a command) are found so soon; our own ring the bell.
POLL_S = 1.0


def run_waiting_jobs() -> int:
    """Run what waits, here and now, until nothing does; for commands. The number of attempts made."""
    attempts = 0
    while _run_next_job():
        attempts += 1
    return attempts


def _run_next_job(about_to_run=lambda job: None) -> bool:
    job = claimable_jobs(timezone.now()).order_by("created_at").only("pk", "time_limit_s").first()
    if job is None:
        return False
    about_to_run(job)
    run_job.apply(args=[str(job.pk)], task_id=f"{CLAIMANT}{uuid.uuid4()}")
    return True


class RunnerLock:
    """An advisory lock on a file of the data folder, held for as long as the process lives."""

    def __init__(self, path: Path):
        self._path = path
        self._file = None

    def acquire(self) -> bool:
        """Try once; True when it is ours, now or already."""
        if self._file is not None:
            return True
        self._path.parent.mkdir(parents=True, exist_ok=True)
        file = self._path.open("a+")
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            file.close()
            return False
        file.truncate(0)
        file.write(f"{os.getpid()}\n")
        file.flush()
        self._file = file
        return True

    def release(self) -> None:
        """Let another process run the jobs."""
        if self._file is not None:
            self._file.close()
            self._file = None


class EmbeddedRunner:
    """Runs the jobs of a data folder, one at a time, until stopped."""

    def __init__(self, lock_path: Path | None = None):
        self._lock = RunnerLock(lock_path or settings.DATA_DIR / "runner.lock")
        self._sweeper = Ticker(SWEEP_S, self._look_after, name="sweep of jobs", at_once=True)
        self._gives_up_at: float | None = None
        self._worker: threading.Thread | None = None

    def start(self) -> None:
        """Begin in a thread of this process; only commands that serve the site may call this."""
        stopping.clear()
        self._start_worker(self._begin)

    def stop(self, timeout_s: float = 10) -> bool:
        """Ask the job under way to put itself back and wait for it; False when it did not in time."""
        stopping.set()
        work_waits.set()
        self._sweeper.stop()
        self._worker.join(timeout_s)
        if self._worker.is_alive():
            logger.warning("The job under way did not stop; it will be run again after the next start.")
            return False
        self._lock.release()
        # Whoever runs jobs in this process next (a command, a test) is not the one that was stopped.
        stopping.clear()
        return True

    def _start_worker(self, target) -> None:
        self._worker = threading.Thread(target=target, name="job runner", daemon=True)
        self._worker.start()

    def _begin(self) -> None:
        while not self._takes_over():
            if stopping.wait(POLL_S):
                return
        self._sweeper.start()
        self._work()

    def _takes_over(self) -> bool:
        try:
            if not self._lock.acquire():
                return False
            orphans = free_orphans(CLAIMANT)
        except Exception:
            logger.exception("The runner cannot begin yet; it tries again.")
            connections.close_all()
            return False
        if orphans:
            logger.info("Found %d jobs that the last process left unfinished.", orphans)
        return True

    def _work(self) -> None:
        try:
            while self._is_wanted():
                if not self._attempt():
                    work_waits.wait(POLL_S)
                    work_waits.clear()
        finally:
            connections.close_all()

    def _is_wanted(self) -> bool:
        # A thread that was given up on ends here, should its job ever return.
        return not stopping.is_set() and threading.current_thread() is self._worker

    def _attempt(self) -> bool:
        try:
            return _run_next_job(self._set_deadline)
        except Exception:
            logger.exception("The runner could not reach its jobs; it tries again.")
            connections.close_all()
            return False
        finally:
            if threading.current_thread() is self._worker:
                self._gives_up_at = None

    def _set_deadline(self, job) -> None:
        self._gives_up_at = time.monotonic() + job.time_limit_s + HARD_LIMIT_MARGIN_S

    def _look_after(self) -> None:
        """Sweep, and go on with a new thread when the old one hangs in a job past its time limit."""
        sweep()
        if self._gives_up_at is not None and time.monotonic() > self._gives_up_at:
            logger.error("A job hangs past its time limit; other jobs go on in a new thread.")
            self._gives_up_at = None
            self._start_worker(self._work)
