"""Stocks as pages: the list, one stock's sheet with all it rests on, and entering stocks and batches."""

import csv
import io
import re
from datetime import date

import pytest
from django.urls import reverse

from curves.importers import parse_readings, read_table
from curves.models import FilmStock, PooledAnalysis, RollState, StockResult
from curves.queries.stock_sheet import stock_sheet
from curves.services.films import edit_stock
from curves.services.references import appoint_reference
from curves.services.reviews import accept_roll, override_control, void_roll, withdraw_roll
from curves.services.runs import judge_run
from labsite.accounts.models import Lab
from labsite.jobs.runner import run_waiting_jobs
from tests.factories.rolls import (
    make_accepted_roll,
    make_batch,
    make_roll,
    make_run,
    make_standards,
    make_submitted_roll,
)
from tests.factories.standards import make_exposure, make_process
from tests.factories.standing import stock_row


def open_lab():
    Lab.objects.update_or_create(pk=1, defaults={"is_open_to_visitors": True, "name": "Test Lab"})


def rows_of(answer) -> list[dict]:
    return list(csv.DictReader(io.StringIO(answer.text)))


def names_in(answer) -> list[str]:
    """The stocks of the list in their order."""
    return re.findall(r'<th scope="row"><a href="/stocks/\d+/[^"]*">([^<]+)</a>', answer.text)


@pytest.fixture
def standards(admin):
    return make_standards(admin)


@pytest.fixture
def lab(admin, owner, standards):
    """A reference of two rolls, a stock a stop faster, and one without a result."""
    run = make_run(owner, standards[0])
    alder, birch = make_batch(owner, "Alder 100"), make_batch(owner, "Birch 200", box_speed=200)
    make_batch(owner, "Cedar 50", box_speed=50)
    for seed in (1, 2):
        make_accepted_roll(owner, admin, alder, standards, run=run, seed=seed)
    make_accepted_roll(owner, admin, birch, standards, run=run, seed=3, speed_point=-1.9)
    appoint_reference(
        actor=admin,
        stock_id=alder.stock_id,
        process_revision_id=standards[0].pk,
        exposure_revision_id=standards[1].pk,
    )
    return {"alder": alder.stock, "birch": birch.stock}


# --- The list


def test_the_list_shows_standing_results_and_says_where_there_is_none(lab, owner, client_for):
    answer = client_for(owner).get(reverse("stock_list"))
    assert names_in(answer) == ["Alder 100", "Birch 200", "Cedar 50"]
    assert "no result under these standards" in answer.text
    assert "house reference" in answer.text
    assert "House process, revision 1 · Daylight contact, revision 1" in answer.text


WANTED = [
    ({"q": "birch"}, ["Birch 200"]),
    ({"q": "fenwick"}, ["Alder 100", "Birch 200", "Cedar 50"]),
    ({"slowest": "100"}, ["Alder 100", "Birch 200"]),
    ({"slowest": "60", "fastest": "150"}, ["Alder 100"]),
    ({"result": "yes"}, ["Alder 100", "Birch 200"]),
    ({"result": "no"}, ["Cedar 50"]),
    ({"production": "no"}, ["Birch 200"]),
    ({"sensitisation": "orthochromatic"}, ["Birch 200"]),
    ({"format": "4×5 in"}, ["Birch 200"]),
    ({"format": "no such"}, []),
    ({"slowest": "many"}, []),
    ({"sort": "-name"}, ["Cedar 50", "Birch 200", "Alder 100"]),
    ({"sort": "-index"}, ["Birch 200", "Alder 100", "Cedar 50"]),
    ({"sort": "box"}, ["Cedar 50", "Alder 100", "Birch 200"]),
    ({"sort": "-rolls"}, ["Alder 100", "Birch 200", "Cedar 50"]),
    ({"sort": "newest"}, ["Alder 100", "Birch 200", "Cedar 50"]),
    ({"sort": "no such key"}, ["Alder 100", "Birch 200", "Cedar 50"]),
]


def test_the_list_filters_and_sorts(lab, owner, client_for):
    edit_stock(
        actor=owner,
        stock_id=lab["birch"].pk,
        name="Birch 200",
        maker="Fenwick Works",
        box_speed=200,
        formats=["4×5 in"],
        sensitisation="orthochromatic",
        is_in_production=False,
    )
    client = client_for(owner)
    found = [(query, names_in(client.get(reverse("stock_list"), query))) for query, _ in WANTED]
    assert found == WANTED


def test_the_export_has_value_interval_and_reason(lab, owner, client_for):
    rows = rows_of(client_for(owner).get(reverse("stock_list"), {"export": "csv", "sort": "name"}))
    by_name = {row["stock"]: row for row in rows}
    alder = by_name["Alder 100"]
    assert alder["rolls"] == "2"
    index, low, high = (float(alder[f"exposure_index{end}"]) for end in (" [EI]", " low", " high"))
    # Made with its speed point at -1.6: 0.8/10^-1.6 = 31.8.
    assert low < 0.8 / 10**-1.6 < high
    assert low < index < high
    withheld = [row["iso_speed withheld"] for row in rows if row["result"] and not row["iso_speed [ISO]"]]
    assert all(withheld), "a withheld speed says why"
    assert by_name["Cedar 50"]["result"] == by_name["Cedar 50"]["exposure_index [EI]"] == ""


def test_visitors_see_stocks_with_a_result_and_a_closed_lab_shows_none(lab, visitor, client_for):
    client = client_for(visitor)
    assert client.get(reverse("stock_list")).status_code == 302
    open_lab()
    answer = client.get(reverse("stock_list"))
    assert names_in(answer) == ["Alder 100", "Birch 200"]
    assert "New stock" not in answer.text
    assert client.get(reverse("stock", args=[FilmStock.objects.get(name="Cedar 50").pk])).status_code == 404


def test_results_under_other_standards_are_shown_when_asked_for(lab, owner, admin, client_for):
    other = make_standards_named(admin, "Push")
    make_accepted_roll(owner, admin, lab["birch"].batches.get(), other, run=make_run(owner, other[0]))
    pair = f"{other[0].pk}-{other[1].pk}"
    answer = client_for(owner).get(reverse("stock_list"), {"standards": pair, "result": "yes"})
    assert names_in(answer) == ["Birch 200"]
    assert "Push process, revision 1 · Push light, revision 1." in answer.text


def make_standards_named(admin, name):
    return make_process(admin, f"{name} process"), make_exposure(admin, f"{name} light")


def test_pages_of_the_list_hold_every_stock_once(owner, client_for):
    for number in range(60):
        stock_row(owner, f"Film {number:02d}")
    client = client_for(owner)
    first, second = (names_in(client.get(reverse("stock_list"), {"page": page})) for page in (1, 2))
    assert (len(first), len(second)) == (50, 10)
    assert len({*first, *second}) == 60


def test_the_list_asks_the_same_queries_however_many_stocks(
    lab, owner, admin, standards, client_for, django_assert_num_queries
):
    client = client_for(owner)
    # Session and person; formats, pairs, count, stocks, results, references; the lab.
    with django_assert_num_queries(9):
        client.get(reverse("stock_list"))
    for number in range(3):
        make_accepted_roll(owner, admin, make_batch(owner, f"Dogwood {number}"), standards, seed=number)
    with django_assert_num_queries(9):
        client.get(reverse("stock_list"))


def test_an_empty_lab_says_what_comes_first(owner, visitor, client_for):
    assert "Enter the first film" in client_for(owner).get(reverse("stock_list")).text
    open_lab()
    assert "No results yet" in client_for(visitor).get(reverse("stock_list")).text


# --- The sheet


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
        {"standards": "9-9"},
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
    roll = FilmStock.objects.get(name="Birch 200").batches.get().rolls.get()
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
        assert "In by override: The strip itself was scratched." in text


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
    other = make_standards_named(admin, "Push")
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
    bare = FilmStock.objects.get(name="Cedar 50")
    assert client.get(reverse("stock_curve_csv", args=[bare.pk])).status_code == 404


def test_the_sheet_asks_the_same_queries_however_many_rolls_and_versions(
    lab, owner, admin, standards, client_for, django_assert_num_queries
):
    client = client_for(owner)
    # Session, person, stock; results, their analyses; what stands; the result, its rolls, the reference
    # and its result, the lab's spread; held back, open, batches, job; the lab twice.
    with django_assert_num_queries(17):
        client.get(reverse("stock", args=[lab["birch"].pk]))
    for seed in (11, 12, 13):
        make_accepted_roll(owner, admin, lab["birch"].batches.get(), standards, seed=seed)
    with django_assert_num_queries(17):
        client.get(reverse("stock", args=[lab["birch"].pk]))


# --- Entering


def test_a_stock_then_its_batch_then_the_plan_that_waited(owner, standards, client_for):
    client = client_for(owner)
    plan = reverse("roll_plan")
    answer = client.post(
        f"{reverse('stock_new')}?next={plan}",
        {
            "name": "Elder 400",
            "maker": "unknown",
            "box_speed": "400",
            "sensitisation": "panchromatic",
            "formats": "35 mm, 120,35 mm",
            "is_in_production": "on",
        },
    )
    stock = FilmStock.objects.get(name="Elder 400")
    assert stock.formats == ["35 mm", "120"]
    assert answer.url.startswith(reverse("batch_new", args=[stock.pk]))
    answer = client.post(answer.url, {"emulsion_number": "77", "expires_on": "2028-01-31"})
    batch = stock.batches.get()
    assert batch.expires_on == date(2028, 1, 31)
    assert answer.url == f"{plan}?batch={batch.pk}"
    assert f'value="{batch.pk}" selected' in client.get(answer.url).text


@pytest.mark.parametrize("elsewhere", ["https://other.example/", "//other.example/x", "javascript:alert(1)"])
def test_nobody_is_led_elsewhere_after_a_batch(owner, client_for, elsewhere):
    stock = stock_row(owner)
    address = f"{reverse('batch_new', args=[stock.pk])}?next={elsewhere}"
    client = client_for(owner)
    assert f'href="{elsewhere}' not in client.get(address).text
    answer = client.post(address, {"emulsion_number": "77"})
    assert answer.url == reverse("stock", args=[stock.pk])


def test_what_is_refused_stands_beside_its_field_and_is_kept(owner, client_for):
    stock = stock_row(owner)
    client = client_for(owner)
    typed = {
        "name": stock.name,
        "maker": stock.maker,
        "box_speed": "100",
        "sensitisation": "panchromatic",
        "notes": "typed with care",
    }
    answer = client.post(reverse("stock_new"), typed)
    assert answer.status_code == 400
    assert "already; use that entry" in answer.text
    assert "typed with care" in answer.text
    make_batch_twice = {"emulsion_number": "77"}
    client.post(reverse("batch_new", args=[stock.pk]), make_batch_twice)
    answer = client.post(reverse("batch_new", args=[stock.pk]), make_batch_twice)
    assert answer.status_code == 400
    assert "has a batch 77 already" in answer.text


def test_a_stock_is_edited(owner, labmate, client_for):
    stock = stock_row(owner)
    client = client_for(labmate)
    assert f'value="{stock.name}"' in client.get(reverse("stock_edit", args=[stock.pk])).text
    answer = client.post(
        reverse("stock_edit", args=[stock.pk]),
        {"name": "Aldermoor 125", "maker": stock.maker, "box_speed": "125", "sensitisation": "blue"},
        follow=True,
    )
    assert "The changes are saved." in answer.text
    stock.refresh_from_db()
    assert (stock.name, stock.is_in_production) == ("Aldermoor 125", False)


def test_visitors_and_retired_people_enter_nothing(visitor, stranger, owner, client_for):
    open_lab()
    stock = stock_row(owner)
    for name, args in (("stock_new", []), ("stock_edit", [stock.pk]), ("batch_new", [stock.pk])):
        assert client_for(visitor).get(reverse(name, args=args)).status_code == 302
        assert client_for(visitor).post(reverse(name, args=args), {}).status_code == 403
        assert client_for(stranger).post(reverse(name, args=args), {}).status_code == 403
