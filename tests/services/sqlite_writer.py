"""A process that writes to an embedded lab's database.

Run as ``python -m tests.services.sqlite_writer count`` or ``… pairs``.

``count``: 200 times, read the highest number and store the next one, in one transaction each.
``pairs``: store both halves of a pair in one transaction each, for ever.
"""

import itertools
import sys

import django


def count() -> None:
    """Each number once, or a write was lost or refused."""
    from django.db import transaction
    from django.db.models import Max

    from tests.services.models import DrillPair

    for _ in range(200):
        with transaction.atomic():
            highest = DrillPair.objects.filter(half=0).aggregate(highest=Max("number"))["highest"] or 0
            DrillPair.objects.create(number=highest + 1, half=0)


def pairs() -> None:
    """Until killed."""
    from django.db import transaction

    from tests.services.models import DrillPair

    for number in itertools.count():
        with transaction.atomic():
            for half in (1, 2):
                DrillPair.objects.create(number=number, half=half)
        if number == 0:
            print("writing", flush=True)


if __name__ == "__main__":
    django.setup()
    {"count": count, "pairs": pairs}[sys.argv[1]]()
