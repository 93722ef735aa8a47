"""The jobs app."""

from django.apps import AppConfig
from django.utils.module_loading import autodiscover_modules


class JobsConfig(AppConfig):
    """Job rows, and the handlers that the other apps register in their tasks modules."""

    name = "labsite.jobs"
    label = "jobs"
    verbose_name = "Jobs"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self):
        """Import for their effect: every app's handlers, and what a Celery worker does beside them."""
        autodiscover_modules("tasks")
        from labsite.jobs import worker  # noqa: F401
