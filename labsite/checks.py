"""Start-up checks: settings that nobody reads and settings that contradict each other."""

from django.conf import settings
from django.core.checks import Tags, Warning, register

from labsite import env


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
