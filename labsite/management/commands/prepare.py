"""Prepare a production lab: the database as the code needs it, and a way in for the first admin."""

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand

from labsite import checks, serving


class Command(BaseCommand):
    """``manage.py prepare``: once after each upgrade, before pages and workers start."""

    help = "Migrate the database; in a lab without an admin, print the link for the first one."

    def handle(self, **options):
        """Migrate, then say how to get in if nobody can yet, or what is left ajar."""
        call_command("migrate", interactive=False, verbosity=1)
        scheme = "https" if settings.IS_HTTPS else "http"
        if notice := serving.first_admin_notice(f"{scheme}://{settings.ALLOWED_HOSTS[0]}"):
            self.stdout.write(notice)
            return
        for warning in checks.admins_second_factor(None, databases=["default"]):
            self.stdout.write(f"{warning.msg} {warning.hint}")
