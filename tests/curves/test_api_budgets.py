"""Lists take the same few queries however many rows there are."""

import pytest

from curves.models import Batch, FilmStock
from tests.factories.instruments import make_instrument
from tests.factories.jobs import drill_job, job_kind
from tests.factories.rolls import make_accepted_roll, make_batch, make_run, make_standards
from tests.factories.scripts import Script
from tests.factories.standards import draft_process, draft_tablet, make_exposure, make_process
from tests.factories.standing import result_row, roll_row, stock_row

#: Of every list, signing in by a token included.
MOST_QUERIES = 8
LISTS = (
    "stocks/",
    "stocks/{stock}/batches/",
    "process-standards/",
    "process-revisions/",
    "exposure-standards/",
    "exposure-revisions/",
    "step-tablets/",
    "tablet-revisions/",
    "instruments/",
    "process-runs/",
    "references/",
    "rolls/",
    "stock-results/",
    "stocks/{stock}/results/",
    "jobs/",
)
# One thing with its parts, and the page of the comparison, which has a budget of its own.
THINGS = {"process-standards/{standard}/": 8, "rolls/{roll}/": 20, "comparison/": 12}


@pytest.fixture
def grow(owner, admin, monkeypatch):
    """``grow(n)`` adds n rows to every list."""
    job_kind(monkeypatch, lambda run: {})
    made = iter(range(100))

    def more(count):
        for number in [next(made) for _ in range(count)]:
            pair = make_process(admin, f"Process {number}"), make_exposure(admin, f"Exposure {number}")
            stock = stock_row(owner, f"Stock {number}")
            first = FilmStock.objects.order_by("pk").first()
            Batch.objects.create(stock=first, emulsion_number=f"batch {number}", created_by=owner)
            run = make_run(owner, pair[0])
            roll_row(owner, *pair, stock=stock, run=run)
            result_row(stock, *pair)
            if stock != first:
                result_row(first, *pair)
            draft_process(admin, f"Draft {number}")
            draft_tablet(admin, f"Drafted tablet {number}")
            make_instrument(admin, f"Instrument {number}")
            drill_job(requested_by=owner)

    return more


def queries_of(script, path, counted) -> int:
    script.get(path)  # the token's use is noted once a minute
    with counted() as queries:
        script.get(path)
    return len(queries)


@pytest.fixture
def counted():
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    return lambda: CaptureQueriesContext(connection)


@pytest.mark.parametrize("path", LISTS)
def test_a_list_of_many_takes_as_many_queries_as_a_list_of_few(grow, admin, counted, path):
    script = Script(admin)
    grow(2)
    path = path.format(stock=FilmStock.objects.order_by("pk").first().pk)
    few = queries_of(script, path, counted)
    assert len(script.get(path)["results"]) >= 2
    grow(4)
    assert queries_of(script, path, counted) == few <= MOST_QUERIES
    assert len(script.get(path)["results"]) >= 6


def test_things_with_their_parts_and_the_comparison_keep_to_their_budgets(owner, admin, counted):
    standards = make_standards(admin)
    run = make_run(owner, standards[0])
    for seed, name in enumerate(("Alder 100", "Birch 200", "Cedar 100")):
        roll = make_accepted_roll(owner, admin, make_batch(owner, name), standards, run=run, seed=seed)
    script = Script(admin)
    for path, budget in THINGS.items():
        address = path.format(standard=standards[0].standard_id, roll=roll.pk)
        assert queries_of(script, address, counted) <= budget, path
