"""Writing of job rows. Other apps need ``submit_job`` alone; the rest serves pages and workers."""

from labsite.jobs.services.submission import cancel_job, retry_job, submit_job

__all__ = ["cancel_job", "retry_job", "submit_job"]
