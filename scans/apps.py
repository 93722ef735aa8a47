"""The scans app: what uploaded scans can be trusted to say."""

from django.apps import AppConfig


class ScansConfig(AppConfig):
    """Registers the app; job handlers live in ``scans.tasks``, which the jobs app discovers."""

    name = "scans"
    verbose_name = "Scans"
    default_auto_field = "django.db.models.BigAutoField"
