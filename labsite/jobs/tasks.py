"""The only Celery task, and the canary."""

from celery import shared_task

from labsite.jobs.execution import execute_job
from labsite.jobs.queries import CANARY
from labsite.jobs.registry import JobRun, job_handler
from labsite.jobs.services.sending import RUN_JOB


@shared_task(name=RUN_JOB, bind=True)
def run_job(self, job_id: str) -> None:
    """Make one attempt at the job; the message carries its id and nothing else."""
    execute_job(job_id, claimed_by=self.request.id)


@job_handler(CANARY, time_limit_s=10)
def pass_through(run: JobRun) -> dict:
    """Do nothing: that this ran is the news."""
    return {}
