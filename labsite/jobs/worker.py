"""What a Celery worker does beside its tasks: sweep, and notice when one of its children is killed.

The sweep runs in a thread of the worker's main process, not as a task: it must go on while every child
is busy and while the broker is down.
"""

from celery.exceptions import TimeLimitExceeded, WorkerLostError
from celery.signals import task_failure, worker_ready, worker_shutting_down
from django.db import connections
from kombu.transport import redis as redis_transport
from redis.exceptions import ConnectionError as BrokerConnectionError

from labsite.jobs.models import Job
from labsite.jobs.services import claims
from labsite.jobs.services.sweeping import SWEEP_S, sweep
from labsite.jobs.tasks import run_job
from labsite.jobs.ticking import Ticker


class LateAcknowledgementChannel(redis_transport.Channel):
    """A channel that says what it means when it is used after its connection was closed.

    A job that ends while the worker is reconnecting acknowledges on the old channel, whose connection has
    no client any more. The library trips over that with an AttributeError, which nobody expects, and the
    whole worker ends; as a connection error it is logged, and the message comes back as it should.
    """

    def _connparams(self, asynchronous=False):
        if self.connection is None or self.connection.client is None:
            raise BrokerConnectionError("The connection of this message is closed.")
        return super()._connparams(asynchronous=asynchronous)


redis_transport.Transport.Channel = LateAcknowledgementChannel

sweeper = Ticker(SWEEP_S, sweep, name="sweep of jobs", at_once=True)


@worker_ready.connect(dispatch_uid="start sweeping jobs")
def start_sweeping(**signal):
    """Sweep from the moment the worker takes messages."""
    sweeper.start()


@worker_shutting_down.connect(dispatch_uid="stop sweeping jobs")
def stop_sweeping(**signal):
    """Leave the sweep to other workers; called from a signal handler, so it must not wait."""
    sweeper.stop(timeout_s=0)


@task_failure.connect(sender=run_job, dispatch_uid="settle the job of a killed child")
def settle_killed_child(task_id=None, exception=None, args=None, **signal):
    """Free the claim of a child that is known to be dead, without waiting for its lease to run out."""
    if not isinstance(exception, (TimeLimitExceeded, WorkerLostError)):
        return
    try:
        job = Job.objects.filter(pk=args[0], state=Job.State.RUNNING, claimed_by=task_id).first()
        if job is not None:
            overran = isinstance(exception, TimeLimitExceeded)
            claims.time_limit_reached(job) if overran else claims.process_lost(job)
    finally:
        connections.close_all()
