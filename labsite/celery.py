"""The Celery app of the production mode: it carries job ids to workers; the job row stays the truth.

Each setting below answers a fault that was seen: what a killed worker, a killed child, a dead broker
or a silent one does to a job. ``tests/services`` injects those faults.
"""

import logging
import os
import socket

from celery import Celery

#: No job runs longer (``labsite.jobs.registry`` keeps to it).
MAX_TIME_LIMIT_S = 900
#: The soft limit lets a job end by itself; so much later its process is killed.
HARD_LIMIT_MARGIN_S = 5


def _noticing_a_dead_peer(*, within_s: int) -> dict[int, int]:
    """Socket options, as far as this system has them: unanswered probes or data end the connection."""
    wanted = {
        "TCP_KEEPIDLE": within_s // 2,
        "TCP_KEEPINTVL": within_s // 6,
        "TCP_KEEPCNT": 3,
        "TCP_USER_TIMEOUT": within_s * 1000,
    }
    return {getattr(socket, name): value for name, value in wanted.items() if hasattr(socket, name)}


os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labsite.settings")
app = Celery("labsite")
# Tasks are looked up from threads too (waitress, the embedded runner); without a default app each of
# them would get an unconfigured one.
app.set_default()
app.config_from_object("django.conf:settings", namespace="CELERY")
app.conf.update(
    task_serializer="json",
    accept_content=["json"],
    result_backend=None,
    task_ignore_result=True,
    # Acknowledged when done, so that a killed worker's message comes back. A killed *child* must not
    # send it back: that loops for ever on a poisonous job. The row's lease and attempt cap recover it.
    task_acks_late=True,
    task_reject_on_worker_lost=False,
    task_soft_time_limit=MAX_TIME_LIMIT_S,
    task_time_limit=MAX_TIME_LIMIT_S + HARD_LIMIT_MARGIN_S,
    worker_prefetch_multiplier=1,
    worker_max_tasks_per_child=200,
    worker_soft_shutdown_timeout=30,
    worker_hijack_root_logger=False,
    worker_cancel_long_running_tasks_on_connection_loss=False,
    broker_connection_retry_on_startup=True,
    broker_connection_max_retries=None,
    # No second try: a connection that died while idle is noticed and replaced before it is used, and
    # what cannot be sent is sent by the sweep.
    task_publish_retry_policy={"max_retries": 0},
    broker_transport_options={
        # A message is handed out again when it stays unacknowledged for longer than any job may run.
        "visibility_timeout": round(1.1 * (MAX_TIME_LIMIT_S + HARD_LIMIT_MARGIN_S)),
        "unacked_restore_throttle": 1,
        "max_connections": 64,
        # No socket_timeout here, where the worker's own connections are made: an acknowledgement that
        # timed out would be logged, and its place in the worker's prefetch count never given back, until
        # a worker that looks well takes nothing. A silent broker is waited for; one whose host is gone is
        # noticed by the kernel. What sends jobs has its own, short timeout (``labsite.jobs``).
        "socket_connect_timeout": 5,
        "socket_keepalive": True,
        "socket_keepalive_options": _noticing_a_dead_peer(within_s=30),
    },
)
app.autodiscover_tasks()
# A line for each task that went well would say what the job row says.
logging.getLogger("celery.app.trace").setLevel(logging.WARNING)
