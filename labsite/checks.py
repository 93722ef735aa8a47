"""Start-up checks: settings that nobody reads, that contradict each other, or that leave a door ajar."""

from django.conf import settings
from django.core.checks import Tags, Warning, register

from labsite import env
from labsite.accounts.queries import current_lab


@register()
def unknown_environment_names(app_configs, **kwargs):
    """A misspelt LABSITE_ name would otherwise be a setting silently lost."""
    return [
        Warning(
            f"{name} is set but nothing reads it.",
            hint=f"Did you mean {meant}?" if meant else None,
            id="labsite.W001",
        )
        for name, meant in env.unknown_names()
    ]


@register(Tags.database, deploy=True)
def admins_second_factor(app_configs, databases=None, **kwargs):
    """An admin's password alone opens everything. Asked only where the command names a database."""
    if not databases or current_lab().admins_need_second_factor:
        return []
    return [
        Warning(
            "Admins sign in with a password alone.",
            hint="Turn on “Admins sign in with a second factor” on the lab's settings page.",
            id="labsite.W004",
        )
    ]


@register(Tags.security, deploy=True)
def encrypted_connections(app_configs, **kwargs):
    """Without HTTPS, passwords and sessions can be read on the way."""
    if not settings.IS_HTTPS:
        return [
            Warning(
                "The site is served without HTTPS.",
                hint="Put a proxy that speaks HTTPS before it and set LABSITE_HTTPS to 1.",
                id="labsite.W002",
            )
        ]
    if not settings.TRUSTED_PROXIES:
        return [
            Warning(
                "HTTPS is asked for, but no proxy is trusted to say that it was used.",
                hint="Set LABSITE_TRUSTED_PROXIES, or pages behind a proxy are redirected for ever.",
                id="labsite.W003",
            )
        ]
    return []
