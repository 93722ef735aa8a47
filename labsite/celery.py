"""The Celery app: production workers get job ids through it; the job row stays the truth."""

from celery import Celery

app = Celery("labsite")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
