"""The sheet of one stock: its result over the reference, what it rests on, and past results."""

import csv
import io
import re

import pytest
from django.urls import reverse

from curves.importers import parse_readings, read_table
from curves.models import PooledAnalysis, RollState, StockResult
from curves.queries.stock_sheet import stock_sheet
from curves.services.films import edit_stock
from curves.services.reviews import accept_roll, override_control, void_roll, withdraw_roll
from curves.services.runs import judge_run
from labsite.jobs.runner import run_waiting_jobs
from tests.factories.labs import lab_standards, make_other_standards, make_stocks, open_lab
from tests.factories.rolls import (
    make_accepted_roll,
    make_batch,
    make_roll,
    make_run,
    make_standards,
    make_submitted_roll,
)


@pytest.fixture
def standards(admin):
    return lab_standards(admin)


def build_lab(owner, admin):
    return make_stocks(owner, admin, make_standards(admin))


def rows_of(answer) -> list[dict]:
    return list(csv.DictReader(io.StringIO(answer.text)))


def sheet_text(client, stock, **query) -> str:
    answer = client.get(reverse("stock", args=[stock.pk]), query)
    assert answer.status_code == 200
    return answer.text


def test_the_sheet_shows_the_result_over_the_reference(lab, owner, client_for):
    text = sheet_text(client_for(owner), lab["birch"])
    sheet = stock_sheet(owner, lab["birch"].pk)
    shift = sheet.result.comparison.measures["speed_shift_stops"]
    assert shift.low <= 0.30 / 0.30103 <= shift.high, "made 0.30 in log exposure faster"
    assert sheet.result.reference == lab["alder"]
    for sentence in sheet.result.comparison.sentences:
        assert sentence.text.replace("'", "&#x27;") in text
    assert '"role": "reference"' in text, "the figure has the reference's curve"
    assert 'href="/measures/#contrast_index"' in text
    assert "One roll only" in text
    assert "1 more roll" not in text


def test_the_reference_says_that_it_is_the_reference(lab, owner, client_for):
    text = sheet_text(client_for(owner), lab["alder"])
    assert "is the house reference under these standards" in text
    assert "2 rolls: the spread from roll to roll" in text


def test_the_sheet_names_rolls_runs_batches_and_members_as_they_want(lab, owner, client_for):
    client = client_for(owner)
    for credit, expected in (("name", "Ola Ownfield"), ("initials", "OO"), ("none", "not named")):
        owner.credit = credit
        owner.save()
        text = sheet_text(client, lab["birch"])
        table = text[text.index("Rolls that the result rests on") :]
        assert f"<td>{expected}</td>" in table
        assert "0417" in table
        assert "unproven" in table
        cited = re.search(r'class="citation">(.*?)</p>', text, re.DOTALL)[1]
        assert ("Tested by" in cited) is (credit != "none")


def test_the_citation_leads_to_this_very_result_when_another_stands(lab, owner, admin, standards, client_for):
    client = client_for(owner)
    before = StockResult.objects.get(stock=lab["birch"]).pooled
    assert f"?result={before.pk}" in sheet_text(client, lab["birch"])
    roll = make_accepted_roll(owner, admin, lab["birch"].batches.get(), standards, seed=9, speed_point=-1.9)
    now = StockResult.objects.get(stock=lab["birch"]).pooled
    text = sheet_text(client, lab["birch"])
    assert f"result {now.pk} from 2 rolls" in text
    assert f"{roll.code} in" in text, "the versions say what changed"
    past = sheet_text(client, lab["birch"], result=before.pk)
    assert "A past result" in past
    assert f"result {before.pk} from 1 roll," in past
    withdraw_roll(actor=owner, roll_id=roll.pk, reasons="Edge fogged.")
    run_waiting_jobs()
    assert StockResult.objects.get(stock=lab["birch"]).pooled == before
    assert "A past result" not in sheet_text(client, lab["birch"], result=before.pk)


def test_a_result_of_another_stock_or_none_is_not_found(lab, owner, client_for):
    client = client_for(owner)
    of_other = PooledAnalysis.objects.filter(stock=lab["alder"]).first()
    address = reverse("stock", args=[lab["birch"].pk])
    for query in (
        {"result": of_other.pk},
        {"result": "999"},
        {"result": "x"},
        {"result": "0"},
        {"standards": "987654-987654"},
    ):
        assert client.get(address, query).status_code == 404


def test_visitors_do_not_see_past_results_of_rolls_that_were_wrong(
    lab, owner, admin, standards, visitor, client_for
):
    open_lab()
    wrong = make_accepted_roll(owner, admin, lab["birch"].batches.get(), standards, seed=9)
    both = StockResult.objects.get(stock=lab["birch"]).pooled
    client = client_for(visitor)
    assert f"Result {both.pk}" in sheet_text(client, lab["birch"])
    void_roll(actor=admin, roll_id=wrong.pk, reasons="The tablet lay upside down.")
    run_waiting_jobs()
    assert f"Result {both.pk}" not in sheet_text(client, lab["birch"])
    address = reverse("stock", args=[lab["birch"].pk])
    assert client.get(address, {"result": both.pk}).status_code == 404
    assert "void" in sheet_text(client_for(owner), lab["birch"], result=both.pk)


def test_a_roll_of_a_run_out_of_control_is_held_back_or_in_by_override(
    lab, owner, admin, standards, visitor, client_for
):
    open_lab()
    roll = lab["birch"].batches.get().rolls.get()
    judge_run(actor=admin, run_id=roll.run_id, control_state="out_of_control", reason="Strip reads high.")
    run_waiting_jobs()
    client = client_for(owner)
    text = sheet_text(client, lab["birch"])
    assert "No result stands" in text
    assert "Held back" in text
    assert "Strip reads high." in text
    assert client_for(visitor).get(reverse("stock", args=[lab["birch"].pk])).status_code == 404
    override_control(actor=admin, roll_id=roll.pk, reason="The strip itself was scratched.")
    run_waiting_jobs()
    for person in (owner, visitor):
        text = sheet_text(client_for(person), lab["birch"])
        assert f"{roll.code}: The strip itself was scratched." in text
        for name in ("stock_list", "front" if person is visitor else "stock_list"):
            text = client_for(person).get(reverse(name)).text
            assert f"By override, {roll.code}: The strip itself was scratched." in text


def test_a_stock_without_a_result_says_what_is_under_way(owner, standards, client_for):
    batch = make_batch(owner)
    client = client_for(owner)
    text = sheet_text(client, batch.stock)
    assert "No result yet" in text
    assert f"/rolls/new/?batch={batch.pk}" in text
    make_submitted_roll(owner, batch, standards)
    assert "No result yet" in sheet_text(client, batch.stock)


def test_pooling_under_way_is_told(lab, owner, admin, standards, client_for):
    roll = make_submitted_roll(owner, lab["birch"].batches.get(), standards, seed=5)
    make_roll(owner, lab["birch"].batches.get(), standards)
    accept_roll(actor=admin, roll_id=roll.pk)
    text = sheet_text(client_for(owner), lab["birch"])
    assert "Pool the accepted rolls of Birch 200" in text
    assert "1 more roll of this stock" in text
    assert roll.state != RollState.ACCEPTED, "the row of this test was read before"


def test_a_corrected_box_speed_is_told_beside_the_old_result(lab, owner, client_for):
    stock = lab["birch"]
    edit_stock(actor=owner, stock_id=stock.pk, name=stock.name, maker=stock.maker, box_speed=250)
    assert "worked out for a box speed of ISO 200" in sheet_text(client_for(owner), stock)


def test_each_pair_of_standards_has_a_tab(lab, owner, admin, client_for):
    other = make_other_standards(admin, "Push")
    make_accepted_roll(owner, admin, lab["birch"].batches.get(), other, run=make_run(owner, other[0]))
    text = sheet_text(client_for(owner), lab["birch"], standards=f"{other[0].pk}-{other[1].pk}")
    assert 'aria-current="page">Push process, revision 1 · Push light, revision 1' in text
    assert "No house reference is appointed under these standards" in text


def test_visitors_read_the_sheet_without_what_is_the_labs_own(lab, visitor, client_for):
    open_lab()
    text = sheet_text(client_for(visitor), lab["birch"])
    for words in ("Plan a roll", "Add a batch", "Edit</a>", "under way"):
        assert words not in text
    assert "Cite and download" in text


def test_the_files_of_a_result_say_what_the_page_says(lab, owner, client_for):
    client = client_for(owner)
    rows = rows_of(client.get(reverse("stock_measures_csv", args=[lab["birch"].pk])))
    by_name = {row["measure"]: row for row in rows}
    sheet = stock_sheet(owner, lab["birch"].pk)
    for name in ("average_gradient_150", "speed_shift_stops"):
        source = {**sheet.result.analysis.measures, **sheet.result.comparison.measures}[name]
        assert float(by_name[name]["value"]) == source.value
    assert by_name["speed_shift_stops"]["verdict"] == sheet.result.comparison.verdicts["speed_shift_stops"]
    curve = client.get(reverse("stock_curve_csv", args=[lab["birch"].pk])).text
    table = parse_readings(read_table(curve.encode()), require="log_exposure")
    assert table.is_valid, "the curve's file can be read again"
    assert len(table.rows) == len(sheet.result.analysis.curve.density)
    bare = lab["cedar"]
    assert client.get(reverse("stock_curve_csv", args=[bare.pk])).status_code == 404


def test_the_sheet_asks_the_same_queries_however_many_rolls_and_versions(
    lab, owner, admin, standards, client_for, django_assert_num_queries
):
    client = client_for(owner)
    # Session, person, stock; results, their analyses; what stands; the result, its rolls, the reference
    # and its result, the lab's spread; held back, open, batches, job; the lab twice.
    with django_assert_num_queries(19):
        client.get(reverse("stock", args=[lab["birch"].pk]))
    for seed in (11, 12, 13):
        make_accepted_roll(owner, admin, lab["birch"].batches.get(), standards, seed=seed)
    with django_assert_num_queries(19):
        client.get(reverse("stock", args=[lab["birch"].pk]))
