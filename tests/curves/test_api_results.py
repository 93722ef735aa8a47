"""Results and the comparison for scripts: the page's own numbers, and what visitors may read of them."""

import csv
import io

import pytest

from curves.models import Analysis, PooledAnalysis, Roll, StockResult
from curves.queries.comparison import comparison_view
from curves.sensitometry import MEASURES
from curves.sensitometry import Analysis as EngineAnalysis
from curves.services.readings import record_readings
from curves.services.reviews import withdraw_roll
from labsite.accounts.services import update_lab
from labsite.jobs.runner import run_waiting_jobs
from tests.factories.compared_lab import make_compared_lab
from tests.factories.rolls import (
    make_batch,
    make_read_roll,
    reading_values,
)
from tests.factories.scripts import Script


def build_lab(owner, admin):
    """A reference and two stocks, one of them a stop faster; and a draft that nobody else should see."""
    stocks = make_compared_lab(owner, admin)
    roll = stocks["Alder 100"].batches.get().rolls.get()
    standards = (roll.process_revision, roll.exposure_revision)
    make_read_roll(owner, make_batch(owner, name="Dogwood 400"), standards, run=roll.run, seed=9)
    return stocks


@pytest.fixture
def open_lab(lab, admin):
    update_lab(actor=admin, name="Open lab", contact="", is_open_to_visitors=True)
    return lab


def test_the_comparison_has_the_numbers_of_the_page(lab, owner, client_for):
    query = f"stock={lab['Birch 200'].pk}&stock={lab['Cedar 100'].pk}"
    comparison = Script(owner).get("comparison/", query)
    by_name = {each["stock"]["name"]: each for each in comparison["stocks"]}
    assert by_name["Alder 100"]["is_reference"]
    assert by_name["Alder 100"]["comparison"] is None
    page = client_for(owner).get(f"/compare/data.csv?{query}")
    rows = list(csv.DictReader(io.StringIO(page.content.decode("utf-8-sig"))))
    assert {row["stock"] for row in rows} == set(by_name)
    compared = 0
    for row in rows:
        line = by_name[row["stock"]]
        measures = line["measures"] | (line["comparison"] or {"measures": {}})["measures"]
        for name, measure in measures.items():
            unit = MEASURES[name].unit
            title = f"{name} [{unit}]" if unit else name
            if title in row:
                assert row[title] == ("" if measure["value"] is None else str(measure["value"]))
                assert row[f"{name} low"] == ("" if measure["low"] is None else str(measure["low"]))
                assert row[f"{name} withheld"] == (measure["reason"] or "")
                compared += 1
    assert compared > 3 * 12


def test_curves_come_where_they_are_asked_for(lab, owner):
    script = Script(owner)
    assert all(each["curve"] is None for each in script.get("comparison/")["stocks"])
    whole = script.get("comparison/", f"curves=true&stock={lab['Birch 200'].pk}")["stocks"]
    view = comparison_view(owner)
    for line, compared in zip(whole, view.stocks[:2], strict=True):
        assert line["curve"] == compared.analysis.curve.to_dict()
    difference = whole[1]["comparison"]["difference"]
    assert difference == view.stocks[1].comparison.to_dict()["difference"]


def test_what_cannot_be_compared_is_told(lab, owner):
    script = Script(owner)
    refusal = script.refused("get", "comparison/", status=404, query="standards=1-987654")
    assert refusal["field"] == "standards"
    assert script.refused("get", "comparison/", status=400, query="stock=alder")["field"] == "stock.0"
    many = "&".join(f"stock={number}" for number in range(1, 62))
    assert script.refused("get", "comparison/", status=400, query=many)["field"] == "stock"


def test_a_lab_without_results_has_an_empty_comparison(owner):
    comparison = Script(owner).get("comparison/")
    assert (comparison["pair"], comparison["stocks"], comparison["lab_spread"]) == (None, [], None)


def test_an_analysis_is_the_engines_own_dictionary(lab, owner):
    stored = Roll.objects.filter(batch__stock=lab["Birch 200"]).get().current_analysis
    answer = Script(owner).get(f"analyses/{stored.pk}/")
    assert (answer["input_digest"], answer["engine_version"]) == (stored.input_digest, stored.engine_version)
    made = {name: answer[name] for name in stored.as_dict()}
    assert made == stored.as_dict()
    assert EngineAnalysis.from_dict(made).to_dict() == made


def test_a_past_analysis_and_a_past_result_stay_readable_to_members(open_lab, owner, admin):
    roll = Roll.objects.filter(batch__stock=open_lab["Cedar 100"]).get()
    result = StockResult.objects.get(stock=open_lab["Cedar 100"]).pooled
    script, visitor = Script(owner), Script()
    assert visitor.get(f"stock-results/{result.pk}/")["is_standing"]
    assert visitor.get(f"analyses/{roll.current_analysis_id}/")["is_standing"]
    withdraw_roll(actor=owner, roll_id=roll.pk, reasons="wrong box")
    run_waiting_jobs()
    assert not script.get(f"stock-results/{result.pk}/")["is_standing"]
    past = f"stocks/{open_lab['Cedar 100'].pk}/results/"
    assert [each["id"] for each in script.get(past)["results"]] == [result.pk]
    assert script.get(f"analyses/{roll.current_analysis_id}/")["is_standing"], "it is the roll's still"
    visitor.refused("get", f"stock-results/{result.pk}/", status=404)
    visitor.refused("get", f"analyses/{roll.current_analysis_id}/", status=404)
    assert PooledAnalysis.objects.filter(pk=result.pk).exists()


def test_a_roll_of_a_draft_has_history_of_analyses(lab, owner):
    roll = Roll.objects.get(state="draft")
    first = roll.current_analysis
    record_readings(actor=owner, strip_id=roll.strips.get().pk, values=reading_values(roll, seed=10))
    script = Script(owner)
    assert not script.get(f"rolls/{roll.pk}/")["is_analysis_current"]
    run_waiting_jobs()
    assert script.get(f"rolls/{roll.pk}/analysis/")["id"] != first.pk
    assert not script.get(f"analyses/{first.pk}/")["is_standing"]
    assert Analysis.objects.filter(roll=roll).count() == 2


def test_a_roll_is_held_against_the_reference(lab, owner):
    script = Script(owner)
    roll = Roll.objects.get(batch__stock=lab["Birch 200"])
    against = script.get(f"rolls/{roll.pk}/comparison/")
    assert against["reference"]["name"] == "Alder 100"
    assert "faster" in against["comparison"]["sentences"][0]["text"]
    lab["Alder 100"].references.update(ended_at="2026-05-05T00:00:00Z")
    assert script.get(f"rolls/{roll.pk}/comparison/")["comparison"] is None


def test_a_roll_without_a_result_says_so(lab, owner):
    roll = Roll.objects.get(state="draft")
    Roll.objects.filter(pk=roll.pk).update(current_analysis=None)
    refusal = Script(owner).refused("get", f"rolls/{roll.pk}/analysis/", status=404)
    assert refusal["message"] == f"{roll.code} has no result yet."


READ_BY_VISITORS = (
    "comparison/",
    "measures/",
    "stocks/",
    "rolls/",
    "stock-results/",
    "references/",
    "process-standards/",
    "process-revisions/",
    "exposure-standards/",
    "exposure-revisions/",
    "step-tablets/",
    "tablet-revisions/",
)


@pytest.mark.parametrize("path", READ_BY_VISITORS)
def test_visitors_read_an_open_lab_and_are_asked_for_a_token_elsewhere(lab, admin, path):
    visitor = Script()
    assert "not open to visitors" in visitor.refused("get", path, status=401)["message"]
    update_lab(actor=admin, name="Open lab", contact="", is_open_to_visitors=True)
    assert visitor.get(path)


def test_visitors_see_accepted_rolls_without_who_made_them(open_lab, owner):
    visitor = Script()
    rolls = visitor.get("rolls/")["results"]
    assert {roll["state"] for roll in rolls} == {"accepted"}
    assert {(roll["member"], roll["notes"], roll["credit"]) for roll in rolls} == {(None, None, "OO")}
    one = visitor.get(f"rolls/{rolls[0]['id']}/")
    assert (one["reviews"], one["remarks"], one["corrections"], one["job"]) == ([], [], [], None)
    assert not any(allowed is True for allowed in one["actions"].values())
    draft = Roll.objects.get(state="draft")
    visitor.refused("get", f"rolls/{draft.pk}/", status=404)
    visitor.refused("get", f"rolls/{draft.pk}/analysis/", status=404)
    visitor.refused("get", f"analyses/{draft.current_analysis_id}/", status=404)
    for query in (f"member_id={owner.pk}", "is_mine=true"):
        assert visitor.refused("get", "rolls/", status=403, query=query)["code"] == "not_allowed"
    assert [stock["name"] for stock in visitor.get("stocks/")["results"]] == list(open_lab)


def test_visitors_see_what_is_in_force_and_nothing_of_who_decided(open_lab, admin):
    from tests.factories.standards import draft_process

    draft = draft_process(admin, "Secret process")
    visitor = Script()
    standards = visitor.get("process-standards/")["results"]
    assert [each["name"] for each in standards] == ["House process"]
    revisions = visitor.get("process-revisions/")["results"]
    assert [(each["state"], each["created_by"]) for each in revisions] == [("in_force", None)]
    visitor.refused("get", f"process-revisions/{draft.pk}/", status=404)
    reference = visitor.get("references/")["results"][0]["reference"]
    assert (reference["stock"]["name"], reference["appointed_by"], reference["reason"]) == (
        "Alder 100",
        None,
        None,
    )


def test_the_registry_explains_every_name_and_code(lab, owner):
    registry = Script(owner).get("measures/")
    assert {each["name"] for each in registry["measures"]} == set(MEASURES)
    analysis = Script(owner).get(f"rolls/{Roll.objects.filter(state='accepted').first().pk}/analysis/")
    assert set(analysis["measures"]) <= {each["name"] for each in registry["measures"]}
    reasons = {each["reason"] for each in analysis["measures"].values() if each["reason"]}
    assert reasons <= set(registry["reasons"])
    assert {flag["code"] for flag in analysis["flags"]} <= set(registry["flags"])
