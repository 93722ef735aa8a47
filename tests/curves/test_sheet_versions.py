"""Published sheets: what a version freezes, when the next one comes, and what it says has changed."""

import copy
import json

import pytest

from curves.models import HouseReference, Roll, SheetVersion, StockResult
from curves.queries.sheet_changes import FIRST, MINUTE, sheet_changes
from curves.queries.sheet_content import content_digest
from curves.queries.sheets import newest_sheet_pair, published_sheet, version_of
from curves.services.recomputing import recompute_results
from curves.services.reviews import withdraw_roll
from curves.services.sheets import publish_sheet, request_sheet
from labsite.common.errors import InvalidInput, NotAllowed, NotFound
from labsite.jobs.models import Job
from labsite.jobs.runner import run_waiting_jobs
from tests.factories.labs import lab_standards, make_stocks, open_lab
from tests.factories.rolls import make_accepted_roll, make_standards


@pytest.fixture
def standards(admin):
    return lab_standards(admin)


def build_lab(owner, admin):
    stocks = make_stocks(owner, admin, make_standards(admin))
    run_waiting_jobs()
    return stocks


def versions_of(stock) -> list[SheetVersion]:
    return list(SheetVersion.objects.filter(stock=stock).order_by("number"))


def ids(standards) -> dict[str, int]:
    process, exposure = standards
    return {"process_revision_id": process.pk, "exposure_revision_id": exposure.pk}


def test_each_change_of_what_stands_makes_a_version_that_says_what_changed(lab, owner, admin, standards):
    first, second = versions_of(lab["birch"])
    assert first.changes == [FIRST]
    assert second.changes == ["Held against Alder 100 now."]
    assert second.pooled == StockResult.objects.get(stock=lab["birch"]).pooled
    roll = make_accepted_roll(owner, admin, lab["birch"].batches.get(), standards, seed=9, speed_point=-1.9)
    third = versions_of(lab["birch"])[2]
    assert third.changes[0] == f"{roll.code} counts now; 2 rolls instead of 1."
    assert any(each.startswith("Average gradient: ") and " instead of " in each for each in third.changes)
    withdraw_roll(actor=owner, roll_id=roll.pk, reasons="Edge fogged.")
    run_waiting_jobs()
    fourth = versions_of(lab["birch"])[3]
    assert fourth.changes[0] == f"{roll.code} does not count any more; 1 roll instead of 2."
    assert fourth.pooled == second.pooled
    assert fourth.content["measures"] == second.content["measures"]


def test_a_version_is_never_rewritten_and_its_digest_is_that_of_what_it_keeps(lab, owner, admin, standards):
    before = {each.pk: (each.content, each.digest, each.changes) for each in versions_of(lab["birch"])}
    make_accepted_roll(owner, admin, lab["birch"].batches.get(), standards, seed=9, speed_point=-1.9)
    lab["birch"].name = "Birch Superb"
    lab["birch"].save()
    HouseReference.objects.all().delete()
    for version in versions_of(lab["birch"])[:2]:
        assert (version.content, version.digest, version.changes) == before[version.pk]
    for version in SheetVersion.objects.all():
        assert content_digest(version.content) == version.digest
        assert content_digest(json.loads(json.dumps(version.content, indent=3))) == version.digest


def test_publishing_twice_adds_nothing(lab, standards):
    before = SheetVersion.objects.count()
    Job.objects.filter(kind="publish_sheet").update(state="queued", attempts=0)
    assert run_waiting_jobs() == 5
    assert SheetVersion.objects.count() == before
    job = Job.objects.filter(kind="publish_sheet").first()
    assert job.outcome == {"published": False, "why": "Nothing has changed since the version before."}


def test_nothing_is_published_where_nothing_stands_any_more(lab, owner, standards):
    birch = lab["birch"]
    roll = Roll.objects.get(batch__stock=birch)
    withdraw_roll(actor=owner, roll_id=roll.pk, reasons="Wrong film.")
    request_sheet(stock_id=birch.pk, **ids(standards))
    run_waiting_jobs()
    assert len(versions_of(birch)) == 2, "those of before stay"
    shown = published_sheet(owner, versions_of(birch)[1])
    assert not shown.is_standing
    assert shown.doubted == (f"{roll.code} is withdrawn since.",)


def test_an_admin_publishes_by_hand_with_a_reason(lab, owner, admin, standards):
    wanted = {"stock_id": lab["birch"].pk, **ids(standards), "reason": "The maker corrected the base."}
    with pytest.raises(NotAllowed):
        publish_sheet(actor=owner, **wanted)
    with pytest.raises(InvalidInput):
        publish_sheet(actor=admin, **wanted | {"reason": " "})
    with pytest.raises(NotFound):
        publish_sheet(actor=admin, **wanted | {"stock_id": lab["cedar"].pk})
    lab["birch"].base_material = "clear polyester"
    lab["birch"].save()
    publish_sheet(actor=admin, **wanted)
    run_waiting_jobs()
    version = versions_of(lab["birch"])[-1]
    assert version.number == 3
    assert version.changes == ["Base: clear polyester instead of not said."]
    assert (version.reason, version.published_by) == ("The maker corrected the base.", admin)


def test_results_from_before_there_were_sheets_get_their_first_after_an_upgrade(lab, admin):
    SheetVersion.objects.all().delete()
    recompute_results(actor=admin)
    run_waiting_jobs()
    assert {version.stock for version in SheetVersion.objects.all()} == {lab["alder"], lab["birch"]}


def test_a_version_knows_a_newer_reference_and_whether_it_is_the_newest(lab, owner, admin, standards):
    old, shown = (published_sheet(owner, version) for version in versions_of(lab["birch"]))
    assert shown.is_newest
    assert not old.is_newest
    assert not shown.is_reference_newer
    assert old.is_reference_newer, "it had none"
    make_accepted_roll(owner, admin, lab["alder"].batches.get(), standards, seed=11)
    assert published_sheet(owner, shown.version).is_reference_newer
    assert newest_sheet_pair(owner, lab["birch"].pk) == shown.version.pair_key


def test_visitors_read_every_version_of_an_open_lab_and_none_of_a_closed_one(lab, visitor, standards):
    birch = versions_of(lab["birch"])[0]
    with pytest.raises(NotFound):
        version_of(visitor, birch.stock_id, birch.pair_key, 1)
    open_lab()
    assert version_of(visitor, birch.stock_id, birch.pair_key, 1) == birch
    assert version_of(visitor, birch.stock_id, birch.pair_key).number == 2
    for key, number in ((birch.pair_key, 9), ("987654-987654", None), ("x", None), ("1", 1), ("1-²", 1)):
        with pytest.raises(NotFound):
            version_of(visitor, birch.stock_id, key, number)


# --- What changed, in words


def price(cost="0.2500", day="2026-05-04") -> dict:
    return {
        "id": 1,
        "kind": "pack",
        "format": "35 mm",
        "content": "1 roll of 36 frames, 35 mm",
        "cost_per_frame": cost,
        "currency": "EUR",
        "priced_on": day,
    }


def measured(value, half) -> dict:
    return {
        "value": value,
        "low": value - half,
        "high": value + half,
        "unit": "D per log10",
        "reason": None,
        "note": "",
    }


GRAIN = {
    "measure": {"value": 9.2, "low": 8.6, "high": 9.8, "unit": "1000 D", "reason": None, "note": ""},
    "rig": "Flatbed 3",
    "is_apart": False,
    "reference": None,
}
BASE = {
    "stock": {
        "name": "Birch",
        "maker": "Fenwick",
        "box_speed": 200,
        "formats": ["35 mm"],
        "sensitisation": "panchromatic",
        "base_material": "",
        "is_in_production": True,
    },
    "result": {"engine_version": "1.0", "input_digest": "a", "id": 1},
    "measures": {"average_gradient_150": measured(0.6, 0.02), "toe_length": measured(0.3, 0.02)},
    "is_reference": False,
    "reference": {"stock_id": 1, "stock": "Alder", "result": 4},
    "differences": {},
    "grain": None,
    "sharpness": None,
    "crop": None,
    "colour": None,
    "development": [],
    "prices": [price()],
    "rolls": [{"code": "R-0001", "batch": "0417"}],
}
CHANGES = [
    ({}, [MINUTE]),
    ({"rolls": [{"code": "R-0001", "batch": "0418"}]}, ["What is recorded of R-0001 was corrected."]),
    (
        {"rolls": [{"code": "R-0002", "batch": "0417"}, {"code": "R-0003", "batch": "0417"}]},
        ["R-0002 and R-0003 count now; 2 rolls instead of 1.", "R-0001 does not count any more."],
    ),
    (
        {"result": {"engine_version": "1.1", "input_digest": "b", "id": 2}},
        ["Its rolls were fitted anew.", "Engine: 1.1 instead of 1.0."],
    ),
    (
        {"measures": BASE["measures"] | {"average_gradient_150": measured(0.64, 0.02)}},
        ["Average gradient: 0.64 ± 0.02 D per log₁₀ instead of 0.60 ± 0.02 D per log₁₀."],
    ),
    (
        {"measures": BASE["measures"] | {"toe_length": measured(0.4, 0.02)}},
        ["1 more measure changed in the digits shown."],
    ),
    ({"measures": BASE["measures"] | {"toe_length": measured(0.3001, 0.02)}}, [MINUTE]),
    (
        {"reference": {"stock_id": 1, "stock": "Alder", "result": 7}},
        ["Result of the house reference Alder: 7 instead of 4."],
    ),
    (
        {"reference": {"stock_id": 3, "stock": "Cedar", "result": 9}},
        ["House reference: Cedar instead of Alder."],
    ),
    ({"reference": None}, ["Held against no house reference any more."]),
    ({"is_reference": True, "reference": None}, ["It is the house reference now."]),
    ({"grain": GRAIN}, ["RMS granularity, 1/1000 D: 9.2 ± 0.6 instead of not measured."]),
    (
        {"prices": [price("0.2750", "2026-06-01")]},
        [
            "Cost per frame, 1 roll of 36 frames, 35 mm: 0.2750 EUR (2026-06-01) "
            "instead of 0.2500 EUR (2026-05-04)."
        ],
    ),
    (
        {"prices": []},
        ["Cost per frame, 1 roll of 36 frames, 35 mm: no price instead of 0.2500 EUR (2026-05-04)."],
    ),
    ({"stock": BASE["stock"] | {"is_in_production": False}}, ["Still in production: no instead of yes."]),
]


@pytest.mark.parametrize(("change", "sentences"), CHANGES)
def test_changes_are_told_with_the_numbers_of_both(change, sentences):
    assert sheet_changes(BASE, copy.deepcopy(BASE) | change) == sentences
