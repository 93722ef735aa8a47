"""Measure anew what an older engine measured: ``python3 manage.py remeasure_scans``, after an upgrade."""

from django.core.management.base import BaseCommand

from scans.services.measuring import remeasure_older


class Command(BaseCommand):
    """Submits the jobs; whatever runs jobs in this lab does them. Readings once taken stay as they are."""

    help = "Submit jobs that measure anew every scan of an older engine; the old measurements are kept."

    def handle(self, **options):
        """Submit, and say how much there is to do."""
        count = remeasure_older()
        if not count:
            self.stdout.write("Every scan is measured by this engine already.")
            return
        self.stdout.write(
            f"Measured by an older engine: {count} scan{'s' if count > 1 else ''}. Their jobs wait, and are "
            "done while the site or its workers run."
        )
