"""The site as an app of its own: its templates, static files, commands and start-up checks."""

from django.apps import AppConfig


class LabsiteConfig(AppConfig):
    """Registers the checks and the Celery app when Django starts."""

    name = "labsite"
    verbose_name = "Common Grey"

    def ready(self):
        """Import for their effect: checks register themselves, shared tasks need the Celery app."""
        from labsite import celery, checks  # noqa: F401
