"""Work that outlasts a page: the job row, its claim, the only Celery task and the embedded runner."""
