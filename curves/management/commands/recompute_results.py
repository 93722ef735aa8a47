"""Compute anew what an older engine computed: ``python3 manage.py recompute_results``, after an upgrade."""

from django.core.management.base import BaseCommand

from curves.services.recomputing import recompute_results


class Command(BaseCommand):
    """Submits the jobs; whatever runs jobs in this lab does them. A second call finds what is still left."""

    help = "Submit jobs that compute anew every standing result of an older engine; the old rows are kept."

    def handle(self, **options):
        """Submit, and say how much there is to do."""
        found = recompute_results()
        if not any((found.rolls, found.stocks, found.spreads)):
            self.stdout.write("Every standing result is of this engine already.")
            return
        self.stdout.write(
            f"Of an older engine: rolls: {found.rolls}, stock results: {found.stocks}, estimates of the "
            f"spread: {found.spreads}. Their jobs wait, and are done while the site or its workers run."
        )
