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
        """Import every app's ``tasks`` module, so that each process knows every kind of job."""
        autodiscover_modules("tasks")
