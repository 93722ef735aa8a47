"""Compare: like with like, over the reference, by one address that says it all."""

import csv
import io
from importlib import import_module

import pytest
from django.apps import apps
from django.http import QueryDict
from django.utils.html import escape

from curves.models import PooledAnalysis, Roll, StockResult
from curves.pages.compare.selection import ALIGNMENTS, Selection
from curves.pages.compare.tables import DIFFERENCE_COLUMNS
from curves.queries.comparison import comparison_view
from curves.sensitometry import ENGINE_VERSION
from curves.services.references import appoint_reference
from curves.services.reviews import override_control, void_roll
from curves.services.runs import judge_run
from labsite.accounts.services import update_lab
from labsite.jobs.models import Job
from labsite.jobs.runner import run_waiting_jobs
from tests.factories.rolls import make_accepted_roll, make_batch, make_run, make_standards


def build_lab(owner, admin):
    """A reference and two stocks, one of them a stop faster, under one pair of standards."""
    standards = make_standards(admin)
    run = make_run(owner, standards[0])
    speeds = {"Alder 100": -1.6, "Birch 200": -1.9, "Cedar 100": -1.6}
    stocks = {}
    for seed, (name, speed_point) in enumerate(speeds.items()):
        batch = make_batch(owner, name=name)
        make_accepted_roll(owner, admin, batch, standards, run=run, seed=seed, speed_point=speed_point)
        stocks[name] = batch.stock
    appoint_reference(
        actor=admin,
        stock_id=stocks["Alder 100"].pk,
        process_revision_id=standards[0].pk,
        exposure_revision_id=standards[1].pk,
    )
    return stocks


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


def test_ticking_more_stocks_keeps_the_order_and_so_the_colours(lab, owner, client_for):
    birch, cedar = lab["Birch 200"].pk, lab["Cedar 100"].pk
    answer = client_for(owner).get("/compare/", {"order": str(cedar), "stock": [birch, cedar]})
    assert answer.status_code == 302
    assert answer.url == f"/compare/?stocks={cedar}.{birch}"


@pytest.mark.parametrize(
    ("address", "canonical"),
    [
        ("", ""),
        ("view=difference&align=speed_point&density=net&bands=1&stock=3&stock=3",
         "stocks=3&view=difference&align=speed_point&density=net&bands=1"),
        ("view=nonsense&align=%00&stock=x&stock=-1&stock=99999999999999999999", ""),
        ("order=5.3&stock=3&stock=4&stock=5", "stocks=5.3.4"),
        ("stocks=2.3&hide=3.7&pin=reference.2.x&sheet=2", "stocks=2&pin=reference.2&hide=3.7&sheet=2"),
        ("sort=-gamma&sort=nothing&speed_from=50,5&speed_to=oo&mixed=1", "mixed=1&speed_from=50.5"),
        ("sort=-gamma&q=%20a%20%20b%00&maker=M", "sort=-gamma&q=a+b&maker=M"),
        ("column=gamma&column=iso_speed&column=luck", "columns=iso_speed.gamma"),
        ("columns=gamma.frame_cost", "columns=frame_cost.gamma"),
        ("columns=iso_speed.gamma&view=panels", "view=panels&columns=iso_speed.gamma"),
        ("top=2,5&left=−2.50&bottom=&right=x", "left=-2.5&top=2.5"),
        ("left=1&right=-1&bottom=0&top=1e9", "bottom=0"),
        # Limits come with what they were set for: other axes have none, panels never.
        ("left=-2&drawn=curves.exposure.gross", "left=-2"),
        ("left=-2&drawn=curves.exposure.gross&align=contrast", "align=contrast"),
        ("left=-2&view=panels", "view=panels"),
    ],
)  # fmt: skip
def test_an_address_has_one_canonical_form(address, canonical):
    selection = Selection.from_query(QueryDict(address))
    assert selection.query() == canonical
    assert Selection.from_query(QueryDict(canonical)) == selection


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


def test_limits_of_the_axes_stand_in_the_address_and_in_their_fields(lab, owner, client_for):
    answer = client_for(owner).get("/compare/?left=-2.5&top=2")
    assert answer.context["permalink"].endswith("/compare/?left=-2.5&top=2")
    assert 'name="left" value="-2.5" inputmode' in answer.text and 'plot-limits" open' in answer.text
    assert "xaxis" in answer.context["figure"]["layout"], "the whole range stays the figure's own"
    assert all("left=-2.5" in row.hide_query for row in answer.context["rows"])
    assert "Limits that are not used" not in answer.text
    assert 'plot-limits">' in client_for(owner).get("/compare/").text, "folded where none is set"


@pytest.mark.parametrize(
    ("address", "said"),
    [
        ("left=far", "Left: “far” is not a number from -99999 to 99999."),
        ("top=1e9", "Top: “1e9” is not a number from -99999 to 99999."),
        ("left=1&right=-2", "Right has to be more than left, not 1 to −2."),
        ("left=50&top=2", "Left 50: nothing is drawn there, only from "),
        ("bottom=-9&top=-7", "Bottom −9 and top −7: nothing is drawn there, only from "),
    ],
)
def test_limits_that_cannot_be_used_are_said_and_left_out(lab, owner, client_for, address, said):
    answer = client_for(owner).get(f"/compare/?{address}")
    assert answer.status_code == 200 and said in answer.text
    assert not {"left", "right", "bottom"} & {*QueryDict(answer.context["query"])}
    assert ("top" in answer.context["query"]) is (address == "left=50&top=2"), "the other axis keeps its own"


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


def names_in(answer):
    return [row.stock.stock.name for row in answer.context["rows"]]


def test_the_table_is_sorted_filtered_hidden_and_its_columns_chosen_by_the_address(lab, owner, client_for):
    client = client_for(owner)
    birch, cedar = lab["Birch 200"].pk, lab["Cedar 100"].pk
    assert names_in(client.get("/compare/?sort=-name")) == ["Alder 100", "Cedar 100", "Birch 200"]
    # Birch was made a stop faster than the others, so it comes first by speed, downwards.
    for sort in ("-speed_shift_stops", "-exposure_index"):
        assert names_in(client.get(f"/compare/?sort={sort}"))[:2] == ["Alder 100", "Birch 200"]
    assert names_in(client.get("/compare/?sort=speed_shift_stops"))[1] == "Cedar 100"
    by_difference = client.get("/compare/?sort=contrast_ratio").context["rows"][1:]
    ratios = [row.stock.comparison.measures["contrast_ratio"].value for row in by_difference]
    assert ratios == sorted(ratios)
    assert names_in(client.get("/compare/?q=birch")) == ["Alder 100", "Birch 200"]
    # The speed points were made at -1.6 and -1.9: EI 0.8/H of 32 and 64.
    assert names_in(client.get("/compare/?speed_from=45")) == ["Alder 100", "Birch 200"]
    assert names_in(client.get("/compare/?contrast_from=5")) == ["Alder 100"]
    assert names_in(client.get("/compare/?production=no")) == ["Alder 100"]
    assert names_in(client.get("/compare/?maker=Fenwick+Works&format=sheet")) == ["Alder 100"]
    hidden = client.get(f"/compare/?hide={birch}")
    assert names_in(hidden) == ["Alder 100", "Cedar 100"] and "Hidden: Birch 200" in hidden.text
    chosen = client.get(f"/compare/?stocks={cedar}&q=birch")
    assert names_in(chosen) == ["Alder 100", "Cedar 100", "Birch 200"], "what is chosen stays on top"
    two = client.get("/compare/?columns=gamma.toe_difference").context["columns"]
    assert [column.name for column in two] == ["gamma", "toe_difference"]


def test_an_order_that_no_heading_shows_is_said_beside_the_table(lab, owner, client_for):
    client = client_for(owner)
    answer = client.get("/compare/?sort=-gamma&columns=iso_speed.d_max")
    said = " ".join(answer.text[answer.text.index("data-unseen-order") :].split())
    assert "<strong>Gamma</strong>, downwards, which is not a column now." in said
    assert 'aria-sort="' not in answer.text
    order = answer.context["unseen_order"]
    assert order["name_query"] == "columns=iso_speed.d_max"
    shown = client.get(f"/compare/?{order['show_query']}")
    assert [column.name for column in shown.context["columns"]] == ["iso_speed", "gamma", "d_max"]
    assert 'aria-sort="descending"' in shown.text and "data-unseen-order" not in shown.text
    by_maker = client.get("/compare/?sort=maker")
    assert "<strong>Maker</strong>, upwards" in by_maker.text and "Show that column" not in by_maker.text
    for order in ("name", "-box", "exposure_index"):
        assert "data-unseen-order" not in client.get(f"/compare/?sort={order}").text, order


def test_what_a_frame_costs_is_a_column_when_it_is_chosen(lab, owner, client_for):
    client = client_for(owner)
    assert "no price entered" not in client.get("/compare/").text
    answer = client.get("/compare/?sort=frame_cost")
    assert "<strong>Cost per frame</strong>, upwards" in answer.text
    shown = client.get(f"/compare/?{answer.context['unseen_order']['show_query']}")
    assert shown.text.count("no price entered") == 3 and "data-unseen-order" not in shown.text
    assert [heading["title"] for heading in shown.context["plain_headings"]][-1] == "Cost per frame"


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


def test_what_is_pinned_stands_in_the_address_and_is_given_to_the_script(lab, owner, client_for):
    pk = lab["Birch 200"].pk
    answer = client_for(owner).get(f"/compare/?stocks={pk}&pin=reference.{pk}")
    assert f'data-pinned="reference.{pk}"' in answer.text
    assert f"pin=reference.{pk}" in answer.context["permalink"]


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


def test_unknown_standards_are_named_and_the_comparison_stands_under_others(lab, owner, client_for):
    client, pk = client_for(owner), lab["Birch 200"].pk
    answer = client.get("/compare/", {"standards": "999-<b>", "stocks": pk, "view": "gradient"})
    assert answer.status_code == 404
    assert "The address asks for the standards “999-&lt;b&gt;”." in answer.text
    (pair,) = client.get("/compare/").context["view"].pairs
    query = f"standards={pair.key}&amp;stocks={pk}&amp;view=gradient"
    assert f'<a href="/compare/?{query}">{pair.label}</a>' in answer.text
    for address in ("/compare/data.csv", "/compare/trade-offs/", "/compare/relatives/"):
        refused = client.get(address, {"standards": "999-999"})
        assert refused.status_code == 404 and "the standards “999-999”" in refused.text, address
        assert '<a href="/compare/">to Compare</a>' in refused.text, address


def test_unknown_stocks_are_named_and_the_others_compared(lab, owner, client_for):
    client, pk = client_for(owner), lab["Birch 200"].pk
    answer = client.get(f"/compare/?stocks=987654.{pk}.5555555&view=gradient")
    assert answer.status_code == 200 and names_in(answer)[:2] == ["Alder 100", "Birch 200"]
    said = " ".join(answer.text.split())
    assert "asks for stocks numbered 987654, 5555555: there is no such stock" in said
    assert answer.context["known_query"] == f"stocks={pk}&view=gradient"
    assert f'href="?stocks={pk}&amp;view=gradient">Go on without' in said
    assert "asks for a stock numbered 987654:" in client.get("/compare/?stocks=987654").text
    for fine in (f"stocks={pk}", f"hide={pk}", "", f"stocks={pk}&q=cedar"):
        assert "Left out" not in client.get(f"/compare/?{fine}").text, fine


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
