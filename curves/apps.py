"""The curves app: films, standards, test rolls, their readings and what the engine makes of them."""

from django.apps import AppConfig


class CurvesConfig(AppConfig):
    """Registers the app; job handlers live in ``curves.tasks``, which the jobs app discovers."""

    name = "curves"
    verbose_name = "Curves"
    default_auto_field = "django.db.models.BigAutoField"
