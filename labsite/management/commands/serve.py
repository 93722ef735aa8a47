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
        notice = serving.first_admin_notice(serving.address_of(listener))
        serving.serve_until_stopped(listener, say=self.say, notes=(notice,) if notice else ())

    def say(self, sentence):
        """Print at once, whatever stdout is."""
        self.stdout.write(sentence)
        self.stdout.flush()
