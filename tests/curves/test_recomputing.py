"""A new engine: whatever an older one computed and still stands is computed anew; nothing is thrown away."""

from io import StringIO

import pytest
from django.core.management import call_command

from curves.models import Analysis, PooledAnalysis, Roll, SpreadEstimate, StockResult
from curves.sensitometry import ENGINE_VERSION
from curves.services.recomputing import Recomputation, recompute_results
from curves.services.reviews import void_roll
from labsite.accounts.models import AuditRecord
from labsite.common.errors import NotAllowed
from labsite.jobs.models import Job
from labsite.jobs.runner import run_waiting_jobs
from tests.factories.rolls import make_accepted_roll, make_batch, make_read_roll, make_standards

OLDER = "0.9"


def build_lab(owner, admin):
    """Two accepted rolls of one stock, a void one, a draft with its curve, and one that is only planned."""
    standards, batch = make_standards(admin), make_batch(owner)
    accepted = [make_accepted_roll(owner, admin, batch, standards, seed=seed) for seed in (1, 2)]
    void = make_accepted_roll(owner, admin, batch, standards, seed=3)
    void_roll(actor=admin, roll_id=void.pk, reasons="Light leak.")
    run_waiting_jobs()
    return {"accepted": accepted, "others": [void, make_read_roll(owner, batch, standards, seed=4)]}


def make_older(*models) -> None:
    """Let results be of an engine before this one; all of them unless some are named."""
    for model in models or (Analysis, PooledAnalysis, SpreadEstimate):
        model.objects.update(engine_version=OLDER)


def test_everything_that_stands_is_of_this_engine_afterwards_and_the_old_rows_are_kept(lab):
    make_older()
    before = {model: model.objects.count() for model in (Analysis, PooledAnalysis, SpreadEstimate)}
    old = {roll.pk: roll.current_analysis_id for roll in Roll.objects.all()}
    assert recompute_results() == Recomputation(rolls=4, stocks=1, spreads=1)
    run_waiting_jobs()
    for roll in Roll.objects.select_related("current_analysis"):
        assert roll.current_analysis.engine_version == ENGINE_VERSION
        assert roll.current_analysis_id != old[roll.pk]
    result = StockResult.objects.get()
    assert result.pooled.engine_version == ENGINE_VERSION
    standing = {roll.current_analysis_id for roll in Roll.objects.filter(state="accepted")}
    assert {analysis.pk for analysis in result.pooled.analyses.all()} == standing
    assert SpreadEstimate.objects.get(is_current=True).engine_version == ENGINE_VERSION
    for model, count in before.items():
        assert model.objects.filter(engine_version=OLDER).count() == count
    assert set(Analysis.objects.filter(engine_version=OLDER).values_list("pk", flat=True)) >= set(
        old.values()
    )


def test_decisions_keep_the_analysis_that_they_rested_on(lab):
    make_older()
    recompute_results()
    run_waiting_jobs()
    for roll in lab["accepted"]:
        assert roll.reviews.get().analysis.engine_version == OLDER


def test_the_history_says_who_asked_and_from_which_engine(lab, admin):
    make_older()
    recompute_results(actor=admin)
    record = AuditRecord.objects.filter(action="fit roll again").first()
    assert (record.actor, record.before) == (admin, {"engine": OLDER})
    assert record.after["engine"] == ENGINE_VERSION


def test_stocks_and_spreads_whose_jobs_failed_are_found_by_the_next_call(lab):
    make_older(PooledAnalysis, SpreadEstimate)
    assert recompute_results() == Recomputation(rolls=0, stocks=1, spreads=1)
    run_waiting_jobs()
    assert recompute_results() == Recomputation(rolls=0, stocks=0, spreads=0)


def test_nothing_is_asked_for_where_nothing_is_older(lab):
    jobs = Job.objects.count()
    assert recompute_results() == Recomputation(rolls=0, stocks=0, spreads=0)
    assert Job.objects.count() == jobs
    assert not AuditRecord.objects.filter(action="fit roll again").exists()


def test_asking_twice_adds_no_job_and_no_result(lab):
    make_older()
    recompute_results()
    waiting = Job.objects.filter(state="queued").count()
    recompute_results()
    assert Job.objects.filter(state="queued").count() == waiting
    run_waiting_jobs()
    assert Analysis.objects.filter(engine_version=ENGINE_VERSION).count() == 4


def test_only_an_admin_asks_by_hand(lab, owner):
    with pytest.raises(NotAllowed):
        recompute_results(actor=owner)


def test_the_command_says_how_much_there_is_to_do(lab):
    said = StringIO()
    call_command("recompute_results", stdout=said)
    assert "already" in said.getvalue()
    make_older()
    call_command("recompute_results", stdout=said)
    assert "rolls: 4, stock results: 1, estimates of the spread: 1" in said.getvalue()
    assert Job.objects.filter(kind="fit_roll", state="queued").count() == 4
