"""The doorbell: tell a worker, or the runner thread of this process, that a job waits.

The row is already saved. A bell that cannot be rung is logged and never raised: the sweep sends the
job again (``labsite.jobs.services.sweeping``).
"""

import logging
import threading
import time

from django.conf import settings
from kombu import pools
from kombu.exceptions import ChannelError

from labsite.celery import HARD_LIMIT_MARGIN_S, app
from labsite.jobs.models import Job

logger = logging.getLogger(__name__)

RUN_JOB = "labsite.jobs.run_job"
#: A page waits no longer than this for a broker that accepts connections and never answers.
BROKER_ANSWERS_WITHIN_S = 2
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
    if time.monotonic() >= _quiet_until and send_job(job_id, time_limit_s):
        return True
    Job.objects.filter(pk=job_id).update(sent_at=None)
    return False


def send_job(job_id, time_limit_s: int) -> bool:
    """Send the id to the broker, whatever happened before; False when that failed."""
    global _quiet_until  # noqa: PLW0603
    try:
        with pools.producers[_connection()].acquire(block=True, timeout=BROKER_ANSWERS_WITHIN_S) as producer:
            app.send_task(
                RUN_JOB,
                args=[str(job_id)],
                soft_time_limit=time_limit_s,
                time_limit=time_limit_s + HARD_LIMIT_MARGIN_S,
                producer=producer,
            )
    except Exception as fault:
        # The client library raises its own, kombu's and the socket's errors; all mean the same here.
        _quiet_until = time.monotonic() + QUIET_AFTER_FAILURE_S
        logger.warning("Job %s is saved but the broker did not take it: %s", job_id, fault)
        return False
    _quiet_until = 0.0
    return True


def line_length() -> int | None:
    """How many messages wait at the broker; None when it does not answer."""
    try:
        with pools.connections[_connection()].acquire(
            block=True, timeout=BROKER_ANSWERS_WITHIN_S
        ) as connection:
            return _messages_in(connection.default_channel, app.conf.task_default_queue)
    except Exception as fault:
        logger.warning("The broker does not answer: %s", fault)
        return None


def _connection():
    """The key of the pools: a description of the connection, which is made only when it is needed."""
    timeouts = ("socket_timeout", "socket_connect_timeout")
    return app.connection_for_write(transport_options=dict.fromkeys(timeouts, BROKER_ANSWERS_WITHIN_S))


def _messages_in(channel, queue: str) -> int:
    try:
        return channel.queue_declare(queue=queue, passive=True).message_count
    except ChannelError:
        # A line that is empty does not exist at this broker.
        return 0
