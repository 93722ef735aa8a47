"""The site as an app of its own: its templates, static files, commands and start-up checks."""

from django.apps import AppConfig
from django.contrib.staticfiles.apps import StaticFilesConfig


class LabsiteConfig(AppConfig):
    """Registers the checks and the Celery app when Django starts."""

    name = "labsite"
    verbose_name = "Common Grey"
    default = True

    def ready(self):
        """Import for their effect: checks register themselves, shared tasks need the Celery app."""
        from labsite import celery, checks  # noqa: F401


class CollectedFiles(StaticFilesConfig):
    """Django's static files without those that no page of ours loads."""

    ignore_patterns = [*StaticFilesConfig.ignore_patterns, "rest_framework", "django_htmx/ext/*", "htm*x-4*"]
