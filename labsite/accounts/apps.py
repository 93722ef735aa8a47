"""The accounts app."""

from django.apps import AppConfig


class AccountsConfig(AppConfig):
    """People of the lab, how they get in, and what they did."""

    name = "labsite.accounts"
    label = "accounts"
    verbose_name = "People"
    default_auto_field = "django.db.models.BigAutoField"
