"""Jobs that come late: whatever was read before something changed never stands over what came after.

Real threads with connections of their own, as in ``test_processes_concurrency``. A pause is put between
looking and storing, where chance would seldom put one.
"""

import threading

import pytest
from django.db import connection, transaction

from curves.models import Analysis, Roll, SpreadEstimate, StockResult
from curves.queries.inputs import digest_of, roll_inputs
from curves.queries.spread_inputs import SpreadInputs, spread_inputs
from curves.queries.standing import standing_analyses
from curves.sensitometry import Analysis as EngineAnalysis
from curves.sensitometry import estimate_lab_spread
from curves.services import pooling
from curves.services.fitting import clear_roll_analysis, store_roll_analysis
from curves.services.pooling import Standing, clear_stock_result, store_pooled_analysis
from curves.services.reviews import accept_roll, void_roll
from curves.services.runs import judge_run
from curves.services.spreads import store_spread_estimate
from labsite.jobs.models import Job
from labsite.jobs.runner import run_waiting_jobs
from tests.factories.rolls import make_accepted_roll, make_batch, make_read_roll, make_standards
from tests.factories.rolls import make_submitted_roll as submitted_roll

#: Long enough for the other thread to store, short enough to wait for one that is kept waiting.
PAUSE_S = 0.5


@pytest.fixture
def standards(admin):
    return make_standards(admin)


@pytest.fixture
def batch(owner):
    return make_batch(owner)


def standing_of(roll) -> Standing:
    return Standing(roll.batch.stock_id, roll.process_revision_id, roll.exposure_revision_id)


def in_thread(act) -> threading.Thread:
    def run():
        try:
            act()
        finally:
            connection.close()

    thread = threading.Thread(target=run)
    thread.start()
    return thread


def pool_of(analyses) -> EngineAnalysis:
    return EngineAnalysis.from_dict(analyses[0].as_dict())


def paused_after_looking(monkeypatch, act):
    """Let the first look at what stands be followed by a pause, in which ``act`` runs in another thread."""
    looked, threads = threading.Event(), []

    def looking(standing):
        found = standing_analyses(standing)
        if not looked.is_set():
            looked.set()
            threads.append(in_thread(act))
            threads[0].join(timeout=PAUSE_S)
        return found

    monkeypatch.setattr(pooling, "standing_analyses", looking)
    return threads


@pytest.mark.django_db(transaction=True)
def test_a_late_pool_does_not_stand_over_a_newer_one(admin, owner, batch, standards, monkeypatch):
    first = make_accepted_roll(owner, admin, batch, standards, seed=1)
    second = make_accepted_roll(owner, admin, batch, standards, seed=2)
    standing, both = standing_of(first), standing_analyses(standing_of(first))

    def void_and_pool():
        void_roll(actor=admin, roll_id=second.pk, reasons="Light leak.")
        left = standing_analyses(standing)
        store_pooled_analysis(standing=standing, analyses=left, result=pool_of(left))

    threads = paused_after_looking(monkeypatch, void_and_pool)
    store_pooled_analysis(standing=standing, analyses=both, result=pool_of(both))
    threads[0].join()
    assert list(StockResult.objects.get().pooled.analyses.all()) == [first.current_analysis]


@pytest.mark.django_db(transaction=True)
def test_a_late_clearing_does_not_take_away_a_newer_result(admin, owner, batch, standards, monkeypatch):
    roll = submitted_roll(owner, batch, standards)
    standing = standing_of(roll)

    def accept_and_pool():
        accept_roll(actor=admin, roll_id=roll.pk)
        analyses = standing_analyses(standing)
        store_pooled_analysis(standing=standing, analyses=analyses, result=pool_of(analyses))

    threads = paused_after_looking(monkeypatch, accept_and_pool)
    clear_stock_result(standing=standing)
    threads[0].join()
    assert StockResult.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_a_roll_accepted_while_its_run_is_judged_is_held_back(admin, owner, batch, standards):
    roll = submitted_roll(owner, batch, standards)

    def accept_and_pool():
        accept_roll(actor=admin, roll_id=roll.pk)
        run_waiting_jobs()

    with transaction.atomic():
        judge_run(actor=admin, run_id=roll.run_id, control_state="out_of_control", reason="Strip 0.1 high.")
        thread = in_thread(accept_and_pool)
        thread.join(timeout=PAUSE_S)
    thread.join()
    run_waiting_jobs()
    roll.refresh_from_db()
    assert roll.is_held_back
    assert not StockResult.objects.exists()


def test_a_fit_that_found_no_readings_does_not_clear_the_curve_of_those_that_came_since(
    owner, batch, standards
):
    roll = make_read_roll(owner, batch, standards)
    clear_roll_analysis(roll_id=roll.pk)
    roll.refresh_from_db()
    assert roll.current_analysis is not None


def test_a_late_spread_is_kept_but_is_not_the_yardstick(admin, owner, batch, standards):
    rolls = [make_accepted_roll(owner, admin, batch, standards, seed=seed) for seed in (1, 2, 3)]
    process, exposure = standards
    pair = {"process_revision_id": process.pk, "exposure_revision_id": exposure.pk}
    newest = SpreadEstimate.objects.get(is_current=True)
    early = SpreadInputs(tuple(roll for roll in spread_inputs(**pair).rolls if roll.pk != rolls[0].pk))
    late = store_spread_estimate(**pair, inputs=early, spread=estimate_lab_spread(early.rows))
    assert not late.is_current
    assert SpreadEstimate.objects.get(is_current=True) == newest


def test_an_accepted_roll_whose_curve_moves_has_its_stock_pooled_anew(admin, owner, batch, standards):
    """As when its box speed was corrected in the moment of its acceptance."""
    roll = make_accepted_roll(owner, admin, batch, standards)
    batch.stock.box_speed = 125
    batch.stock.save()
    roll = Roll.objects.select_related("exposure_revision", "batch__stock").get(pk=roll.pk)
    result = EngineAnalysis.from_dict(roll.current_analysis.as_dict())
    moved = store_roll_analysis(roll_id=roll.pk, input_digest=digest_of(roll_inputs(roll)), result=result)
    assert Analysis.objects.count() == 2
    assert Job.objects.filter(kind="pool_stock", state="queued").count() == 1
    run_waiting_jobs()
    assert list(StockResult.objects.get().pooled.analyses.all()) == [moved]


def test_the_exposures_error_is_counted_once_however_few_the_rolls(admin, owner, batch, standards):
    roll = make_accepted_roll(owner, admin, batch, standards)
    assert roll.exposure_revision.log_exposure_sd > 0
    assert StockResult.objects.get().pooled.measures == roll.current_analysis.measures
