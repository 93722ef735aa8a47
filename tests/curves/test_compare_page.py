"""Compare: like with like, over the reference, by one address that says it all."""

import csv
import io
from importlib import import_module

import pytest
from django.apps import apps
from django.utils.html import escape

from curves.models import PooledAnalysis, Roll, StockResult
from curves.pages.compare.selection import ALIGNMENTS
from curves.pages.compare.tables import DIFFERENCE_COLUMNS
from curves.queries.comparison import comparison_view
from curves.sensitometry import ENGINE_VERSION
from curves.services.reviews import override_control, void_roll
from curves.services.runs import judge_run
from labsite.accounts.services import update_lab
from labsite.jobs.models import Job
from labsite.jobs.runner import run_waiting_jobs
from tests.factories.compared_lab import make_compared_lab
from tests.factories.rolls import make_accepted_roll, make_batch, make_run, make_standards


def build_lab(owner, admin):
    """A reference and two stocks."""
    return make_compared_lab(owner, admin)


def test_a_stock_a_stop_faster_is_found_a_stop_faster(lab, owner):
    view = comparison_view(owner)
    assert view.reference.stock == lab["Alder 100"]
    faster = next(stock for stock in view.stocks if stock.stock == lab["Birch 200"])
    shift = faster.comparison.measures["speed_shift_stops"]
    # Made 0.30 faster in log exposure: 1.00 stop; the interval has to hold it.
    assert shift.low <= 0.30 / 0.30103 <= shift.high
    assert next(stock for stock in view.stocks if stock.is_reference).comparison is None


def test_rolls_that_could_not_be_pooled_are_not_counted(admin, owner, client_for):
    standards, batch = make_standards(admin), make_batch(owner)
    for seed, speed_point in enumerate((-1.6, -4.5, -1.6)):  # the second is far above 0.10 D everywhere
        make_accepted_roll(owner, admin, batch, standards, seed=seed, speed_point=speed_point)
    pooled = StockResult.objects.get().pooled
    assert (pooled.roll_count, pooled.left_out_count, pooled.rolls_in_words) == (2, 1, "2 of 3")
    client = client_for(owner)
    for address in ("/compare/", "/stocks/", f"/stocks/{batch.stock_id}/"):
        assert "2 of 3" in client.get(address).text, address
    assert "from 2 of 3 rolls" in client.get(f"/stocks/{batch.stock_id}/").text
    for address in ("/compare/data.csv", "/stocks/?export=csv"):
        line = next(csv.DictReader(io.StringIO(client.get(address).text.lstrip("\ufeff"))))
        assert (line["rolls"], line["rolls_left_out"]) == ("2", "1"), address
    answered = client.get("/api/v1/comparison/").json()["stocks"][0]
    assert (answered["roll_count"], answered["left_out_count"]) == (2, 1)


def test_the_migration_counts_as_the_engine_did(admin, owner):
    make_accepted_roll(owner, admin, make_batch(owner), make_standards(admin))
    PooledAnalysis.objects.update(roll_count=3)  # as it was kept when two of three were left out
    migration = import_module("curves.migrations.0003_rolls_left_out")
    migration.count_as_the_engine_did(apps, None)
    assert PooledAnalysis.objects.get().rolls_in_words == "1 of 3"
    migration.count_as_before(apps, None)
    assert PooledAnalysis.objects.get().roll_count == 3


@pytest.mark.parametrize(
    ("state", "words"),
    [
        ("queued", "is being pooled anew"),
        ("failed", "could not be pooled anew"),
        ("cancelled", "could not be pooled anew"),
    ],
)
def test_a_result_that_no_longer_rests_on_its_rolls_says_so(
    lab, admin, owner, visitor, client_for, state, words
):
    update_lab(actor=admin, name="Lab", contact="", is_open_to_visitors=True)
    roll = Roll.objects.get(batch__stock=lab["Birch 200"])
    void_roll(actor=admin, roll_id=roll.pk, reasons="Light leak.")
    job = Job.objects.get(kind="pool_stock", state="queued")
    Job.objects.filter(pk=job.pk).update(state=state)
    sentence = f"The result of Birch 200 {words}"
    for address in ("/compare/", f"/stocks/{lab['Birch 200'].pk}/"):
        page = client_for(owner).get(address).text
        assert sentence in page and job.get_absolute_url() in page, address
        assert "The result of Alder 100" not in page
    open_to_all = client_for(visitor).get("/compare/").text
    assert sentence in open_to_all and job.get_absolute_url() not in open_to_all
    assert sentence in client_for(owner).get("/api/v1/comparison/").json()["repooling"][0]
    Job.objects.filter(pk=job.pk).update(state="queued")
    run_waiting_jobs()
    assert "The result of" not in client_for(owner).get("/compare/").text


def test_queries_do_not_grow_with_the_number_of_stocks(lab, owner, client_for, django_assert_max_num_queries):
    client = client_for(owner)
    with django_assert_max_num_queries(12):
        answer = client.get("/compare/", {"stock": [stock.pk for stock in lab.values()]})
    assert answer.status_code == 200


def test_the_page_says_value_interval_and_reason(lab, owner, client_for):
    address = {"stock": lab["Birch 200"].pk, "column": "iso_speed"}
    page = client_for(owner).get("/compare/", address).content.decode()
    assert "faster than the reference" in page
    assert "±" in page
    assert 'data-reason="' in page, "a withheld measure says why"
    assert "house reference" in page


@pytest.mark.parametrize("view", ["curves", "difference", "gradient"])
@pytest.mark.parametrize("align", ALIGNMENTS)
def test_every_view_is_drawn(lab, owner, client_for, view, align):
    address = {"stock": lab["Birch 200"].pk, "view": view, "align": align, "density": "net", "bands": "1"}
    answer = client_for(owner).get("/compare/", address)
    roles = {trace["meta"]["role"] for trace in answer.context["figure"]["data"] if "meta" in trace}
    assert "stock" in roles


@pytest.mark.parametrize("align", ALIGNMENTS)
def test_panels_have_a_curve_a_link_and_a_line_each(lab, owner, client_for, align):
    answer = client_for(owner).get("/compare/", {"view": "panels", "align": align})
    panels = answer.context["panels"]
    assert [panel.label for panel in panels] == ["Birch 200", "Cedar 100"]
    assert all(panel.path.startswith("M") and panel.summary for panel in panels)
    assert "speed +" in panels[0].summary
    for panel in panels:
        assert f'href="{panel.url}" data-curve="{panel.key}"'.replace("&", "&amp;") in answer.text


def test_the_page_says_how_many_stocks_pass_the_filters(lab, owner, client_for):
    client = client_for(owner)

    def said(**address):
        return " ".join(client.get("/compare/", address).text.split())

    assert "pass the filters" not in said() and "passes the filters" not in said()
    assert "1 stock passes the filters. " in said(q="birch")
    assert "2 stocks pass the filters; one whose measure is withheld is within no range of it." in said(
        speed_from="1"
    )
    assert "No stocks pass the filters." in said(q="nothing")
    chosen = lab["Cedar 100"].pk
    assert "Besides those chosen, no stocks pass the filters." in said(q="nothing", stocks=chosen)
    filtered = client.get("/compare/?q=nothing&speed_to=1&view=gradient&sort=box&left=-2&sheet=2")
    assert filtered.context["all_query"] == "view=gradient&sort=box&left=-2", "drawn as it was"


def test_standards_are_never_mixed_and_the_page_says_what_is_left_out(admin, lab, owner, client_for):
    other = make_standards_named(admin, "Other process", "Other exposure")
    batch = make_batch(owner, name="Dogwood 50")
    make_accepted_roll(owner, admin, batch, other)
    pair = f"{StockResult.objects.get(stock=lab['Birch 200']).process_revision_id}-" + str(
        StockResult.objects.get(stock=lab["Birch 200"]).exposure_revision_id
    )
    page = client_for(owner).get("/compare/", {"standards": pair, "stock": batch.stock_id}).content.decode()
    assert "Dogwood 50 is left out" in page
    assert "can&#x27;t be compared" in page


def test_what_is_mixed_on_demand_is_marked_in_figure_table_and_files(admin, lab, owner, client_for):
    other = make_standards_named(admin, "Other process", "Other exposure")
    batch = make_batch(owner, name="Dogwood 50")
    make_accepted_roll(owner, admin, batch, other)
    result = StockResult.objects.get(stock=lab["Birch 200"])
    pair = f"{result.process_revision_id}-{result.exposure_revision_id}"
    address = {"standards": pair, "stock": batch.stock_id}
    client = client_for(owner)
    assert "mixed=1" in client.get("/compare/", address).text, "the refusal leads to mixing"
    answer = client.get("/compare/", address | {"mixed": "1", "align": "speed_point"})
    assert "Mixed standards: † Dogwood 50" in answer.context["figure_title"]
    assert "† Dogwood 50" in [trace.get("name") for trace in answer.context["figure"]["data"]]
    (row,) = (row for row in answer.context["rows"] if row.stock.other_standards)
    assert "Other process" in row.stock.other_standards and row.stock.stock == batch.stock
    assert set(row.stock.comparison.verdicts.values()) == {"unknown"}, "no verdict is given on them"
    assert "not exposed and processed under the same standards" in answer.text
    assert "not known yet" not in answer.text, "the lab's spread is not what is lacking"
    assert "</svg> † Dogwood 50</h3>" in " ".join(answer.text.split()), "marked in words, too"
    assert "is left out" not in answer.text
    sent = client.get("/compare/data.csv", address | {"mixed": "1"})
    assert 'filename="comparison-mixed-standards.csv"' in sent["Content-Disposition"]
    lines = {line["stock"]: line for line in csv.DictReader(io.StringIO(sent.text))}
    assert lines["Dogwood 50"]["is_mixed_in"] == "1" and "Other process" in lines["Dogwood 50"]["standards"]
    assert lines["Alder 100"]["is_mixed_in"] == "0"
    label = answer.context["view"].pair.label
    head = answer.text[: answer.text.index('aria-label="Ways to compare"')]
    assert label in head, "two pairs can look alike in the narrow list of them"
    assert f'data-saved-under="{label}"' in answer.text, "a saved figure says under what it stands"
    panels = client.get("/compare/", address | {"mixed": "1", "view": "panels"})
    assert "† Dogwood 50" in [panel.label for panel in panels.context["panels"]]


TABS = ["Curves and measures", "Print tones", "Print plan", "Colour response", "Side by side"]


def test_tabs_carry_the_chosen_stocks_from_page_to_page_and_back(lab, owner, client_for):
    client = client_for(owner)
    chosen = [lab["Cedar 100"].pk, lab["Birch 200"].pk]  # in this order, which is not that of names
    answer = client.get(f"/compare/?stocks={chosen[0]}.{chosen[1]}&view=gradient")
    pair = answer.context["view"].pair.key
    assert [tab["title"] for tab in answer.context["tabs"]] == TABS
    assert "view=gradient" in answer.context["tabs"][0]["url"], "its own address stays as it is"
    for number in (1, 2, 3, 4):
        page = client.get(answer.context["tabs"][number]["url"])
        assert page.status_code == 200
        tabs = page.context["tabs"]
        assert [tab["is_current"] for tab in tabs] == [place == number for place in range(5)]
        assert f"standards={pair}&stock={chosen[0]}&stock={chosen[1]}" in tabs[0]["url"]
        back = client.get(tabs[0]["url"])
        assert [row.stock.stock.pk for row in back.context["rows"] if row.is_chosen] == chosen
    shown = client.get(answer.context["tabs"][1]["url"]).context["view"].printed
    assert [each.stock.pk for each in shown if not each.is_reference] in (chosen, [])


def test_from_one_page_of_printing_to_the_other_settings_go_along(lab, owner, client_for):
    pk = lab["Birch 200"].pk
    page = client_for(owner).get(f"/compare/print-plan/?stock={pk}&time=14")
    by_title = {tab["title"]: tab["url"] for tab in page.context["tabs"]}
    assert "time=14" in by_title["Print tones"] and f"stock={pk}" in by_title["Print tones"]
    assert "time=14" not in by_title["Colour response"] and f"stock={pk}" in by_title["Colour response"]


def test_every_sentence_leads_to_its_number(lab, owner, client_for):
    answer = client_for(owner).get("/compare/?columns=speed_shift_stops")
    row = next(row for row in answer.context["rows"] if row.words)
    for links in (said.links for said in row.words):
        for _, url in links:
            if url.startswith("#"):
                assert f'id="{url[1:]}"' in answer.text
            else:
                assert url.split("#")[1] in ("differences", "measures")
    assert any(url.startswith("#") for said in row.words for _, url in said.links)


def test_what_is_said_of_a_row_is_fetched_by_itself(lab, owner, client_for):
    """The page holds the texts of the first chosen stocks only; a row asks for its own when it is opened."""
    client = client_for(owner)
    query = "columns=speed_shift_stops&q=cedar"
    page = client.get(f"/compare/?{query}")
    for row in page.context["rows"]:
        pk = row.stock.stock.pk
        assert f'data-words="/compare/words/{pk}/"' in page.text
        part = client.get(f"/compare/words/{pk}/?{query}")
        assert part.status_code == 200 and "<html" not in part.text
        said = [sentence.opening for sentence in (*row.own_words(None), *row.words)]
        assert said and all(escape(text) in part.text for text in said), row.stock.stock.name
        assert ("Against the reference" in part.text) is bool(row.words)
        assert all(escape(text) not in page.text for text in said)
        assert "Not measured here: colour response" in part.text  # no patches were read in this lab
    for nothing in (99_999, 10**30):
        assert client.get(f"/compare/words/{nothing}/").status_code == 404


def make_standards_named(admin, process_name, exposure_name):
    from tests.factories.standards import make_exposure, make_process

    return make_process(admin, name=process_name), make_exposure(admin, name=exposure_name)


def test_the_file_holds_the_same_numbers(lab, owner, client_for):
    client = client_for(owner)
    answer = client.get("/compare/data.csv")
    lines = list(csv.DictReader(io.StringIO(answer.content.decode())))
    assert [line["stock"] for line in lines] == ["Alder 100", "Birch 200", "Cedar 100"]
    shown = client.get("/compare/").context["rows"]
    for line, row in zip(lines, shown, strict=True):
        for cell in row.differences:
            heading = next(name for name in line if name.split(" [")[0] == cell.name)
            value = cell.measure.value if cell.measure else None
            assert line[heading] == ("" if value is None else str(value)), cell.name
        assert {f"verdict {name}" for name in DIFFERENCE_COLUMNS} <= set(line)


def test_visitors_compare_in_an_open_lab_only(admin, lab, visitor, client_for):
    client = client_for(visitor)
    assert client.get("/compare/").status_code == 302, "asked to sign in"
    update_lab(actor=admin, name="Open lab", contact="", is_open_to_visitors=True)
    assert client.get("/compare/").status_code == 200
    assert client.get("/compare/data.csv").status_code == 200


def test_an_empty_lab_says_what_is_missing(owner, client_for):
    assert b"once a roll of it is accepted" in client_for(owner).get("/compare/").content


def test_an_override_is_told_while_the_result_rests_on_it_and_no_longer(admin, owner):
    standards = make_standards(admin)
    run = make_run(owner, standards[0], temperature_start_c=22.0)
    roll = make_accepted_roll(owner, admin, make_batch(owner), standards, run=run)
    override_control(actor=admin, roll_id=roll.pk, reason="The thermometer was wrong.")
    run_waiting_jobs()
    (line,) = comparison_view(owner).stocks
    assert line.overrides == (f"{roll.code}: The thermometer was wrong.",)
    judge_run(actor=admin, run_id=run.pk, control_state="in_control", reason="Strip within 0.02 D.")
    run_waiting_jobs()
    (line,) = comparison_view(owner).stocks
    assert line.overrides == (), "the run is in control, so nothing rests on an override"


def test_the_page_names_the_engine_that_computed_what_it_shows(lab, owner, client_for):
    PooledAnalysis.objects.filter(stock=lab["Cedar 100"]).update(engine_version="0.9")
    page = client_for(owner).get("/compare/").content.decode()
    assert f"Engines 0.9, {ENGINE_VERSION}." in page
    PooledAnalysis.objects.update(engine_version="0.9")
    page = client_for(owner).get("/compare/").content.decode()
    assert "Engine 0.9." in page
