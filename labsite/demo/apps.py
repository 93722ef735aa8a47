"""The demo app: no rows of its own, only the command that builds and serves an invented lab."""

from django.apps import AppConfig


class DemoConfig(AppConfig):
    """Registers the ``demo`` command."""

    name = "labsite.demo"
    label = "demo"
