"""Serve an embedded lab: pages and jobs from one process, its data in one folder."""

from django.core.management.base import BaseCommand

from labsite import serving
from labsite.accounts.services import first_admin_link


class Command(BaseCommand):
    """``manage.py serve``: the whole lab in one process."""

    help = "Serve this lab: pages and jobs from one process."
    requires_migrations_checks = False

    def add_arguments(self, parser):
        """Where to listen."""
        parser.add_argument("--host", default="127.0.0.1", help="Default: this machine only.")
        parser.add_argument("--port", type=int, default=8000)

    def handle(self, *, host, port, **options):
        """Listen, bring everything up to date, say where, serve."""
        listener = serving.listen(host, port)
        serving.prepare_site()
        address = serving.address_of(listener)
        self.stdout.write(f"Common Grey is at {address} (Ctrl-C stops it).")
        if link := first_admin_link():
            self.stdout.write(f"There is no admin yet. Become the first one at {address.rstrip('/')}{link}")
        self.stdout.flush()
        serving.serve_until_stopped(listener)
