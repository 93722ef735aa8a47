"""The scans app: what uploaded scans can be trusted to say."""

from django.apps import AppConfig


class ScansConfig(AppConfig):
    """Registers the app; its first command, ``measure_scan``, needs no database."""

    name = "scans"
    verbose_name = "Scans"
    default_auto_field = "django.db.models.BigAutoField"
