"""Free an account of a lost second factor where no other admin can: whoever has the machine may."""

from django.core.management.base import BaseCommand, CommandError

from labsite.accounts.services import take_second_factor_at_console
from labsite.common.errors import LabError


class Command(BaseCommand):
    """``manage.py take_second_factor NAME``: when phone and codes are lost and nobody else is an admin."""

    help = "Take an account's second factor away; its password is asked for as before."

    def add_arguments(self, parser):
        """Take the user name and why."""
        parser.add_argument("username", metavar="NAME", help="what the person signs in as")
        parser.add_argument("--reason", default="taken away at the console", help="kept in the history")

    def handle(self, *, username, reason, **options):
        """Take it away, or say why not."""
        try:
            person = take_second_factor_at_console(username=username, reason=reason)
        except LabError as refusal:
            raise CommandError(refusal.message) from None
        self.stdout.write(f"{person} signs in by password alone until a new second factor is set up.")
