"""The Celery app of the production mode: it carries job ids to workers; the job row stays the truth.

Each setting below answers a fault that was seen: what a killed worker, a killed child, a dead broker
or a silent one does to a job. ``tests/services`` injects those faults.
"""

import logging
import os

from celery import Celery

#: No job runs longer (``labsite.jobs.registry`` keeps to it).
MAX_TIME_LIMIT_S = 900
#: The soft limit lets a job end by itself; so much later its process is killed.
HARD_LIMIT_MARGIN_S = 5

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
    # More than the web process has threads, lest a page wait for a connection held by another.
    broker_pool_limit=32,
    # No second try: a connection that died while idle is noticed and replaced before it is used, and
    # what cannot be sent is sent by the sweep. So a broker that accepts and never answers costs a page
    # the socket timeout below, once (with one retry it was three times that).
    task_publish_retry_policy={"max_retries": 0},
    broker_transport_options={
        # A message is handed out again when it stays unacknowledged for longer than any job may run.
        "visibility_timeout": round(1.1 * (MAX_TIME_LIMIT_S + HARD_LIMIT_MARGIN_S)),
        "unacked_restore_throttle": 1,
        "socket_timeout": 2,
        "socket_connect_timeout": 2,
        "max_connections": 64,
    },
)
app.autodiscover_tasks()
# A line for each task that went well would say what the job row says.
logging.getLogger("celery.app.trace").setLevel(logging.WARNING)
