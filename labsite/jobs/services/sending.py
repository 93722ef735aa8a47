"""The doorbell: tell a worker, or the runner thread of this process, that a job waits.

The row is already saved. A bell that cannot be rung is logged and never raised: the sweep sends the
job again (``labsite.jobs.services.sweeping``).
"""

import logging
import threading
import time

from django.conf import settings

from labsite.celery import HARD_LIMIT_MARGIN_S, app

logger = logging.getLogger(__name__)

RUN_JOB = "labsite.jobs.run_job"
#: After a failed send nothing is tried for this long, so that a page with many jobs waits but once.
QUIET_AFTER_FAILURE_S = 10

#: Set whenever a job may be waiting; the runner thread of this process sleeps on it.
work_waits = threading.Event()

_quiet_until = 0.0


def announce_job(job_id, time_limit_s: int) -> bool:
    """Ring once; False when the broker could not be told."""
    if settings.MODE == "embedded":
        work_waits.set()
        return True
    if time.monotonic() < _quiet_until:
        return False
    return send_job(job_id, time_limit_s)


def send_job(job_id, time_limit_s: int) -> bool:
    """Send the id to the broker, whatever happened before; False when that failed."""
    global _quiet_until  # noqa: PLW0603
    try:
        app.send_task(
            RUN_JOB,
            args=[str(job_id)],
            soft_time_limit=time_limit_s,
            time_limit=time_limit_s + HARD_LIMIT_MARGIN_S,
        )
    except Exception as fault:
        # The client library raises its own, kombu's and the socket's errors; all mean the same here.
        _quiet_until = time.monotonic() + QUIET_AFTER_FAILURE_S
        logger.warning("Job %s is saved but the broker did not take it: %s", job_id, fault)
        return False
    _quiet_until = 0.0
    return True
