"""The drills as an app of the processes that they start; never installed in the site."""

import os

from django.apps import AppConfig


class DrillsConfig(AppConfig):
    """Drill jobs and what they store. DRILL_SPEED divides the waiting times of the sweep."""

    name = "tests.services"
    label = "drills"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self):
        """Shorten the times before the worker module reads them; then register the drill jobs."""
        from labsite.jobs.services import claims, sending, sweeping

        speed = float(os.environ.get("DRILL_SPEED", "1"))
        claims.LEASE_S /= speed
        claims.HEARTBEAT_S /= speed
        claims.RETRY_PAUSE_S /= speed
        sweeping.SWEEP_S /= speed
        sweeping.RESEND_AFTER /= speed
        sending.QUIET_AFTER_FAILURE_S /= speed

        from tests.services import handlers  # noqa: F401
