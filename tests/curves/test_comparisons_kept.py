"""Comparisons that are kept: saved by name for their owner, frozen for good."""

import csv
import hashlib
import io
import json

import openpyxl
import pytest
from django.utils.html import escape

from curves.models import EquivalenceMargins, FrozenComparison, PooledAnalysis, SavedComparison, StockResult
from curves.services.comparisons import (
    delete_comparison,
    freeze_comparison,
    rename_comparison,
    save_comparison,
    set_margins,
)
from labsite.accounts.models import AuditRecord
from labsite.accounts.services import update_lab
from labsite.common.errors import InvalidInput, NotAllowed, NotFound, WrongState
from labsite.jobs.runner import run_waiting_jobs
from tests.factories.results import appoint
from tests.factories.rolls import make_accepted_roll, make_batch, make_run, make_standards


def build_lab(owner, admin):
    """Two stocks under one pair of standards."""
    standards = make_standards(admin)
    run = make_run(owner, standards[0])
    batches = [make_batch(owner, name=name) for name in ("Alder 100", "=Birch 200")]
    for seed, batch in enumerate(batches):
        make_accepted_roll(owner, admin, batch, standards, run=run, seed=seed)
    return {"standards": standards, "run": run, "batches": batches}


def test_a_comparison_is_saved_renamed_and_deleted_by_its_owner(owner):
    saved = save_comparison(actor=owner, name="  Slow   films ", query="view=panels&stocks=1.2")
    assert (saved.name, saved.owner, saved.query) == ("Slow films", owner, "view=panels&stocks=1.2")
    assert rename_comparison(actor=owner, comparison_id=saved.pk, name="Slower films").name == "Slower films"
    delete_comparison(actor=owner, comparison_id=saved.pk)
    assert not SavedComparison.objects.exists()
    actions = list(AuditRecord.objects.order_by("id").values_list("action", flat=True))
    assert actions[-3:] == ["save comparison", "rename comparison", "delete comparison"]


def test_a_name_is_once_an_owner_but_others_may_have_it_too(owner, labmate):
    first = save_comparison(actor=owner, name="Slow", query="")
    save_comparison(actor=labmate, name="Slow", query="")
    with pytest.raises(InvalidInput, match="already"):
        save_comparison(actor=owner, name="Slow", query="")
    other = save_comparison(actor=owner, name="Fast", query="")
    with pytest.raises(InvalidInput, match="already"):
        rename_comparison(actor=owner, comparison_id=other.pk, name="Slow")
    assert rename_comparison(actor=owner, comparison_id=first.pk, name="Slow").name == "Slow"


@pytest.mark.parametrize("name", ["", "   ", "x" * 81])
def test_a_name_that_cannot_be_is_refused_and_says_what_would_do(owner, name):
    with pytest.raises(InvalidInput, match="1 to 80") as refusal:
        save_comparison(actor=owner, name=name, query="")
    assert refusal.value.field == "name"


def test_an_address_too_long_to_keep_is_refused(owner):
    with pytest.raises(InvalidInput, match="fewer stocks"):
        save_comparison(actor=owner, name="Long", query="x" * 2001)


def test_nobody_changes_what_another_saved(owner, labmate, admin, visitor):
    saved = save_comparison(actor=owner, name="Slow", query="")
    for person in (labmate, admin, visitor):
        with pytest.raises(NotAllowed):
            rename_comparison(actor=person, comparison_id=saved.pk, name="Mine")
        with pytest.raises(NotAllowed):
            delete_comparison(actor=person, comparison_id=saved.pk)
    with pytest.raises(NotFound):
        delete_comparison(actor=owner, comparison_id=saved.pk + 1)
    with pytest.raises(NotAllowed):
        save_comparison(actor=visitor, name="Slow", query="")


def test_saving_keeps_the_canonical_address_and_the_list_opens_it(lab, owner, labmate, client_for):
    client, pk = client_for(owner), lab["batches"][1].stock_id
    address = f"/compare/saved/new/?view=panels&stock={pk}&stock={pk}&nonsense=1"
    answer = client.post(address, {"name": "Birch alone"})
    assert answer.status_code == 302 and answer.url == f"/compare/?stocks={pk}&view=panels"
    assert SavedComparison.objects.get().query == f"stocks={pk}&view=panels"
    page = client.get("/compare/saved/").text
    assert "Birch alone" in page and f"/compare/?stocks={pk}&amp;view=panels" in page
    assert "/rename/" in page
    seen = client_for(labmate).get("/compare/saved/").text
    assert "Birch alone" in seen and "Ola Ownfield" in seen and "/rename/" not in seen


def test_a_refused_name_keeps_what_was_typed(owner, client_for):
    save_comparison(actor=owner, name="Slow", query="")
    answer = client_for(owner).post("/compare/saved/new/", {"name": "Slow"})
    assert answer.status_code == 400
    assert "already" in answer.text and 'value="Slow"' in answer.text


def freeze(client, query=""):
    answer = client.post(f"/compare/frozen/new/?{query}", {"title": "Two films, spring"})
    assert answer.status_code == 302, answer.text
    return answer.url


def test_limits_of_the_axes_are_saved_and_frozen_with_the_rest(lab, owner, client_for):
    client = client_for(owner)
    client.post("/compare/saved/new/?left=-2.5&top=x", {"name": "Near"})
    assert SavedComparison.objects.get().query == "left=-2.5"
    page = client.get(freeze(client, "left=-2.5&top=2"))
    assert 'name="left" value="-2.5" inputmode' in page.text and 'name="top" value="2"' in page.text
    beyond = client.get(freeze(client, "left=50")).text
    assert "Left 50: nothing is drawn there" in beyond and 'name="left" value="" inputmode' in beyond


def test_a_frozen_comparison_gives_the_same_bytes_after_newer_data(lab, admin, owner, client_for):
    client = client_for(owner)
    live = client.get("/compare/data.csv").content
    address = freeze(client)
    before = {kind: client.get(f"{address}comparison.{kind}").content for kind in ("csv", "json", "xlsx")}
    assert before["csv"] == live, "frozen as it was"
    make_accepted_roll(
        owner, admin, lab["batches"][0], lab["standards"], run=lab["run"], seed=7, speed_point=-1.8
    )
    PooledAnalysis.objects.update(engine_version="9.9")
    assert client.get("/compare/data.csv").content != live
    for kind, content in before.items():
        assert client.get(f"{address}comparison.{kind}").content == content, kind
    frozen = FrozenComparison.objects.get()
    assert frozen.digest == hashlib.sha256(before["csv"]).hexdigest()
    assert set(frozen.results.values_list("pk", flat=True)) == {
        stock["result"] for stock in frozen.document["stocks"]
    }
    page = client.get(address).text
    assert frozen.digest in page and "Newer results stand" in page and "Alder 100" in page


@pytest.mark.parametrize("view", ["curves", "difference", "gradient", "panels"])
def test_a_frozen_comparison_is_drawn_from_the_results_that_are_pinned(lab, admin, owner, client_for, view):
    appoint(admin, StockResult.objects.get(stock=lab["batches"][0].stock))
    client = client_for(owner)
    second = lab["batches"][1].stock
    query = f"view={view}&align=speed_point&bands=1&stocks={second.pk}"
    live = client.get(f"/compare/?{query}")
    address = freeze(client, query)
    before = client.get(address)
    keys = {trace["meta"]["key"] for trace in before.context["figure"]["data"]}
    assert {"reference", f"stock-{second.pk}"} <= keys
    if view != "panels":  # which are no figure; here their curves are drawn
        assert before.context["figure"] == live.context["figure"]
    assert "Alder 100" in before.text and f'data-curve="stock-{second.pk}"' in before.text
    said = next(row.words for row in live.context["rows"] if row.stock.stock == second)
    assert said and all(escape(sentence.text) in before.text for sentence in said)
    make_accepted_roll(
        owner, admin, lab["batches"][1], lab["standards"], run=lab["run"], seed=7, speed_point=-1.8
    )
    second.name = "Renamed since"
    second.save()
    after = client.get(address)
    assert after.context["figure"] == before.context["figure"]
    assert "Renamed since" not in after.text
    if view != "panels":
        assert client.get(f"/compare/?{query}").context["figure"] != before.context["figure"]


def test_the_three_files_hold_the_same_numbers(lab, owner, client_for):
    client = client_for(owner)
    lines = list(csv.DictReader(io.StringIO(client.get("/compare/data.csv").text)))
    document = json.loads(client.get("/compare/data.json").content)
    book = openpyxl.load_workbook(io.BytesIO(client.get("/compare/data.xlsx").content))
    header, *rows = book["Comparison"].iter_rows(values_only=True)
    assert [line["stock"] for line in lines] == [row[0] for row in rows]
    for line, stock, row in zip(lines, document["stocks"], rows, strict=True):
        cells = dict(zip(header, row, strict=True))
        for name, measure in stock["measures"].items():
            heading = next(each for each in header if each.split(" [")[0] == name)
            expected = "" if measure["value"] is None else str(measure["value"])
            assert line[heading] == expected
            assert cells[heading] == measure["value"], name


def test_a_name_that_looks_like_a_formula_is_text_in_every_file(lab, owner, client_for):
    client = client_for(owner)
    assert "'=Birch 200" in client.get("/compare/data.csv").text
    book = openpyxl.load_workbook(io.BytesIO(client.get("/compare/data.xlsx").content))
    assert all(cell.data_type != "f" for row in book["Comparison"].iter_rows() for cell in row)


def test_an_unknown_kind_of_file_and_an_unknown_code_are_not_found(lab, owner, client_for):
    client = client_for(owner)
    address = freeze(client)
    assert client.get(f"{address}comparison.exe").status_code == 404
    assert client.get("/compare/frozen/abcdefgh/").status_code == 404


def test_visitors_of_an_open_lab_read_frozen_ones_but_not_saved_ones(lab, admin, owner, visitor, client_for):
    address = freeze(client_for(owner))
    save_comparison(actor=owner, name="Private thoughts", query="")
    assert client_for(visitor).get(address).status_code == 302
    update_lab(actor=admin, name="Open", contact="", is_open_to_visitors=True)
    assert client_for(visitor).get(address).status_code == 200
    listed = client_for(visitor).get("/compare/saved/").text
    assert "Two films, spring" in listed and "Private thoughts" not in listed


def test_nothing_is_frozen_without_a_title_or_without_a_stock(lab, owner, client_for):
    document = {"stocks": []}
    with pytest.raises(InvalidInput, match="nothing to freeze"):
        freeze_comparison(actor=owner, title="Empty", query="", pair_ids={}, document=document)
    with pytest.raises(InvalidInput, match="title of 1 to 120"):
        freeze_comparison(actor=owner, title=" ", query="", pair_ids={}, document=document)
    assert client_for(owner).post("/compare/frozen/new/", {"title": ""}).status_code == 400
    assert not FrozenComparison.objects.exists()


def test_less_than_was_chosen_is_not_frozen(lab, owner, client_for):
    query = f"stocks={lab['batches'][0].stock_id}.987654"
    answer = client_for(owner).post(f"/compare/frozen/new/?{query}", {"title": "Two films"})
    assert answer.status_code == 409
    assert "1 of the 2 chosen stocks" in answer.text and not FrozenComparison.objects.exists()


def test_a_result_that_was_frozen_cannot_vanish_from_under_it(lab, owner, client_for):
    freeze(client_for(owner))
    run_waiting_jobs()
    pinned = set(FrozenComparison.objects.get().results.values_list("pk", flat=True))
    assert pinned == set(StockResult.objects.values_list("pooled_id", flat=True))


WIDTHS = {"speed_stops": 0.4, "contrast_share": 0.08, "shape_density": 0.04}


def test_an_admin_sets_margins_and_the_earlier_ones_are_history(admin, owner):
    set_margins(actor=admin, **WIDTHS)
    set_margins(actor=admin, reason="Finer", **WIDTHS | {"speed_stops": 0.3})
    assert [each.speed_stops for each in EquivalenceMargins.objects.all()] == [0.3, 0.4]
    with pytest.raises(WrongState, match="already"):
        set_margins(actor=admin, **WIDTHS | {"speed_stops": 0.3})
    with pytest.raises(NotAllowed):
        set_margins(actor=owner, **WIDTHS)


@pytest.mark.parametrize("wrong", [{"speed_stops": 0.0}, {"contrast_share": 0.6}, {"shape_density": -1.0}])
def test_impossible_margins_are_refused_with_what_would_do(admin, wrong):
    with pytest.raises(InvalidInput, match="above 0, and at most") as refusal:
        set_margins(actor=admin, **WIDTHS | wrong)
    assert refusal.value.field in wrong
