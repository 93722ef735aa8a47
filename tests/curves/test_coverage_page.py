"""The coverage board: what counts, what is stale, who is at it, and the way from a gap to a planned roll."""

import csv
import io
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from curves.models import Roll, RollState
from curves.queries.coverage import CoverageFilter, coverage_board
from labsite.accounts.services import update_lab
from tests.factories.rolls import make_batch, make_standards
from tests.factories.standards import make_exposure
from tests.factories.standing import roll_row


@pytest.fixture
def lab(owner, admin):
    """Two processes' worth of rolls: fresh, stale, planned and none at all; another exposure in force."""
    process, exposure = make_standards(admin)
    make_exposure(admin, "Camera")
    names = ("Fresh 100", "Stale 50", "Planned 400", "None 25")
    stocks = {name: make_batch(owner, name).stock for name in names}
    for name, days in (("Fresh 100", 3), ("Fresh 100", 30), ("Stale 50", 400)):
        _accepted(owner, process, exposure, stocks[name], days)
    roll_row(owner, process, exposure, stock=stocks["Planned 400"], state=RollState.DRAFT)
    return {"process": process, "exposure": exposure, "stocks": stocks}


def _accepted(owner, process, exposure, stock, days):
    from curves.models import Analysis

    roll = roll_row(owner, process, exposure, stock=stock)
    analysis = Analysis.objects.create(
        roll=roll, engine_version="0", input_digest="0" * 64, measures={}, detail={}
    )
    then = timezone.now() - timedelta(days=days)
    Roll.objects.filter(pk=roll.pk).update(current_analysis=analysis, accepted_at=then)


def _states(board):
    return {row.stock.name: [cell.state for cell in row.cells] for row in board.rows}


def test_cells_count_accepted_rolls_and_tell_the_age_of_the_newest(lab, owner):
    board = coverage_board(owner, CoverageFilter())
    assert len(board.standards) == 2
    cell = next(
        cell
        for row in board.rows
        if row.stock.name == "Fresh 100"
        for cell in row.cells
        if cell.standards.exposure == lab["exposure"]
    )
    assert (cell.count, cell.age_days, cell.state) == (2, 3, "fresh")
    assert board.totals == {"missing": 6, "stale": 1, "fresh": 1}


@pytest.mark.parametrize(
    ("exposed", "developed", "age"),
    [(None, None, 3), (50, None, 50), (50, 45, 45), (None, 45, 45)],
)
def test_age_counts_from_development_else_from_exposure_else_from_acceptance(
    lab, owner, exposed, developed, age
):
    """Days ago that the one roll was exposed and developed; it was accepted three days ago."""
    from tests.factories.rolls import make_run

    today = timezone.localdate()
    Roll.objects.filter(batch__stock=lab["stocks"]["Stale 50"]).delete()
    _accepted(owner, lab["process"], lab["exposure"], lab["stocks"]["Stale 50"], 3)
    roll = Roll.objects.filter(batch__stock=lab["stocks"]["Stale 50"])
    run = None
    if developed:
        run = make_run(owner, lab["process"], ran_on=today - timedelta(days=developed))
    roll.update(exposed_on=today - timedelta(days=exposed) if exposed else None, run=run)
    board = coverage_board(owner, CoverageFilter(name_or_maker="Stale"))
    assert board.rows[0].age_days == age
    assert {cell.newest_on for cell in board.rows[0].cells} == {today - timedelta(days=age), None}


def test_stale_is_what_the_days_say(lab, owner):
    wanted = {"standards": f"{lab['process'].pk}-{lab['exposure'].pk}"}
    assert _states(coverage_board(owner, CoverageFilter(**wanted)))["Stale 50"] == ["stale"]
    longer = coverage_board(owner, CoverageFilter(**wanted, stale_after_days=401))
    assert _states(longer)["Stale 50"] == ["fresh"]


def test_a_roll_that_is_held_back_does_not_count(lab, owner):
    from curves.models.processes import ControlState
    from tests.factories.rolls import make_run

    run = make_run(owner, lab["process"])
    type(run).objects.filter(pk=run.pk).update(
        control_state=ControlState.OUT_OF_CONTROL, control_reason="too warm"
    )
    Roll.objects.filter(batch__stock=lab["stocks"]["Stale 50"]).update(run=run)
    assert _states(coverage_board(owner, CoverageFilter()))["Stale 50"] == ["missing", "missing"]


@pytest.mark.parametrize(
    ("wanted", "names"),
    [
        ({"state": "planned"}, ["Planned 400"]),
        ({"state": "stale"}, ["Stale 50"]),
        ({"name_or_maker": "none"}, ["None 25"]),
        ({"sort": "-rolls"}, ["Fresh 100", "Stale 50", "None 25", "Planned 400"]),
        ({"sort": "box"}, ["Fresh 100", "None 25", "Planned 400", "Stale 50"]),
        ({"sort": "age"}, ["Fresh 100", "Stale 50", "None 25", "Planned 400"]),
        ({"sort": "-name"}, ["Stale 50", "Planned 400", "None 25", "Fresh 100"]),
    ],
)
def test_filters_and_orders(lab, owner, wanted, names):
    assert [row.stock.name for row in coverage_board(owner, CoverageFilter(**wanted)).rows] == names


def test_from_a_gap_one_gets_to_a_plan_with_stock_and_standards_chosen(client_for, lab, owner):
    client = client_for(owner)
    page = client.get(reverse("coverage"), {"q": "None"})
    stock = lab["stocks"]["None 25"]
    address = (
        f"{reverse('roll_plan')}?stock={stock.pk}&process={lab['process'].pk}&exposure={lab['exposure'].pk}"
    )
    assert address.replace("&", "&amp;") in page.text
    form = client.get(address).context["form"]
    assert form["batch_id"].value() == stock.batches.get().pk
    assert form["process_revision_id"].value() == lab["process"].pk
    # Two exposure standards are in force: without the address none would be chosen.
    assert form["exposure_revision_id"].value() == lab["exposure"].pk
    assert client.get(reverse("roll_plan")).context["form"]["exposure_revision_id"].value() is None
    assert client.get(reverse("roll_plan"), {"exposure": "999999"}).status_code == 200


def test_members_see_who_is_at_it_and_visitors_do_not(client_for, lab, owner, admin, visitor):
    roll = Roll.objects.get(state=RollState.DRAFT)
    assert roll.code in client_for(owner).get(reverse("coverage")).text
    update_lab(actor=admin, name="Lab", contact="", is_open_to_visitors=True)
    seen = client_for(visitor).get(reverse("coverage"))
    assert seen.status_code == 200
    assert roll.code not in seen.text and "Plan a roll" not in seen.text


def test_the_labs_own_days_hold_unless_others_are_given(client_for, lab, owner, settings):
    settings.STALE_AFTER_DAYS = 500
    client = client_for(owner)
    assert client.get(reverse("coverage")).context["board"].totals["stale"] == 0
    assert client.get(reverse("coverage"), {"days": "10"}).context["board"].totals["stale"] == 1
    refused = client.get(reverse("coverage"), {"days": "0"})
    assert refused.status_code == 400 and "greater than or equal to 1" in refused.text


def test_the_file_has_a_line_a_cell(client_for, lab, owner):
    answer = client_for(owner).get(reverse("coverage"), {"export": "csv"})
    rows = list(csv.DictReader(io.StringIO(answer.text)))
    assert len(rows) == 8
    assert {row["state"] for row in rows} == {"missing", "stale", "fresh"}


def test_an_empty_lab_is_told_what_is_missing(client_for, owner):
    assert "No standards in force" in client_for(owner).get(reverse("coverage")).text


def test_the_number_of_queries_does_not_grow(client_for, lab, owner, django_assert_max_num_queries):
    client = client_for(owner)
    with django_assert_max_num_queries(8):
        client.get(reverse("coverage"))
