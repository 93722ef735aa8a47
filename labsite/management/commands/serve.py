"""Serve an embedded lab: pages and jobs from one process, its data in one folder."""

from django.core.management.base import BaseCommand

from labsite import serving


class Command(BaseCommand):
    """``manage.py serve``: the whole lab in one process."""

    help = "Serve this lab: pages and jobs from one process."

    def add_arguments(self, parser):
        """Where to listen."""
        parser.add_argument("--host", default="127.0.0.1", help="Default: this machine only.")
        parser.add_argument("--port", type=int, default=8000)

    def handle(self, *, host, port, **options):
        """Listen, bring everything up to date, serve."""
        listener = serving.listen(host, port)
        serving.prepare_site()
        serving.serve_until_stopped(listener, self.announce)

    def announce(self, address):
        """Say where the lab is, and how to get in if nobody can yet."""
        self.stdout.write(f"Common Grey is at {address} (Ctrl-C stops it).")
        if notice := serving.first_admin_notice(address):
            self.stdout.write(notice)
        self.stdout.flush()  # at once, wherever it goes
