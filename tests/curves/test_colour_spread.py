"""The spread in colour from roll to roll on pages, in words and files: what it rests on and what follows."""

import csv
import html
import io

import pytest
from django.urls import reverse

from curves.models import Analysis, Roll, StockResult
from curves.queries.colour_response import colour_response, colours_beside
from curves.queries.sheet_content import sheet_content
from curves.queries.sheet_tables import _colour as colour_lines
from curves.sensitometry.analysis import empty_curve
from curves.services.patch_sets import enter_patch_set
from tests.factories.patches import PATCHES, TRUTH, analyse, bracket
from tests.factories.results import appoint, standing_result
from tests.factories.rolls import make_roll, make_standards
from tests.factories.standards import make_exposure

#: Blue's shift on each roll of three stocks, stops above the reference's truth: rolls differ by some 0.3.
ROLLS = {"Reference 100": (-0.3, 0.0, 0.3), "Near 100": (0.3, 0.6, 0.9), "Far 200": (1.7, 1.9)}


@pytest.fixture
def standards(admin):
    return make_standards(admin)


def read_rolls(member, admin, standards, rolls):
    """Accepted rolls of stocks whose blue differs so, the first of which is the house reference."""
    enter_patch_set(
        actor=admin, exposure_revision_id=standards[1].pk, name="Target", source="Lin", patches=PATCHES
    )
    for number, (name, shifts) in enumerate(rolls.items()):
        result = standing_result(member, *standards, name=name)
        if not number:
            appoint(admin, result)
        batch = result.stock.batches.create(emulsion_number="1", created_by=member)
        for shift in shifts:
            roll = make_roll(member, batch, standards)
            bracket(member, roll, offsets=(0,), shifts=TRUTH | {"Blue": TRUTH["Blue"] + shift})
            analyse(roll)


@pytest.fixture
def lab(owner, admin, standards):
    read_rolls(owner, admin, standards, ROLLS)


def result_of(name):
    return StockResult.objects.get(stock__name=name)


def beside_of(name):
    result = result_of(name)
    pair = {"process_revision_id": result.process_revision_id}
    pair["exposure_revision_id"] = result.exposure_revision_id
    return colours_beside(result.stock_id, result_of("Reference 100").stock_id, pair)


def test_the_spread_is_told_and_judges_every_patch(lab, owner):
    view = colour_response(owner)
    assert (view.spread.roll_count, view.spread.stock_count, view.spread.degrees_of_freedom) == (8, 3, 5)
    # Of two patches one differs by 0.3 and the other by nothing: a root mean square of 0.2 less reading.
    assert 0.1 < view.spread.sd.value < 0.25 < view.spread.sd.high
    assert {each.stock.name: each.verdicts for each in view.stocks} == {
        "Reference 100": {},
        "Near 100": {"Blue": "within the lab's spread", "Red": "not distinguishable"},
        "Far 200": {"Blue": "real", "Red": "not distinguishable"},
    }


def test_a_stock_tested_alone_has_the_spread_of_the_others_in_its_interval(lab, owner, standards):
    result = standing_result(owner, *standards, name="Once 100")
    batch = result.stock.batches.create(emulsion_number="1", created_by=owner)
    roll = make_roll(owner, batch, standards)
    bracket(owner, roll, offsets=(0,))
    analyse(roll)
    once, near = beside_of("Once 100"), beside_of("Near 100")
    assert once.spread == near.spread and once.roll_count == 1 and not once.is_one_roll
    assert once.shifts["Blue"].standard_error > once.spread.roll_sd
    assert once.shifts["Blue"].standard_error == pytest.approx(
        3**0.5 * near.shifts["Blue"].standard_error, rel=0.05
    )


def test_page_and_file_and_document_tell_the_same(client_for, owner, lab):
    client = client_for(owner)
    page = client.get(reverse("colour_response")).text
    assert "from 8 rolls of 3 stocks, all patches together, reading error taken off" in page
    assert page.count('<span class="colour-verdict">') == 4
    assert '<span class="colour-verdict">within the lab&#x27;s spread</span>' in page
    rows = csv.DictReader(io.StringIO(client.get(reverse("colour_response_data")).text))
    told = {(row["stock"], row["patch"]): row["verdict"] for row in rows}
    document = client.get(reverse("api_colour_response")).json()
    for each in document["stocks"]:
        for patch in TRUTH:
            assert each["verdicts"].get(patch, "") == told[each["stock"]["name"], patch]
    assert told["Far 200", "Blue"] == "real" and told["Reference 100", "Blue"] == ""
    spread = document["spread"]
    assert (spread["roll_count"], spread["stock_count"], spread["degrees_of_freedom"]) == (8, 3, 5)
    assert spread["sd"]["low"] <= spread["sd"]["value"] <= spread["sd"]["high"]
    assert spread["sd"]["unit"] == "stop"


def test_words_and_the_sheet_claim_what_is_real_and_only_that(client_for, owner, lab):
    client = client_for(owner)
    far, near = (
        html.unescape(client.get(f"/compare/words/{result_of(name).stock_id}/").text)
        for name in ("Far 200", "Near 100")
    )
    assert "is lighter than on the reference; Red cannot surely" in far and "is real is open" not in far
    assert "reads lighter than on the reference, but within the lab's spread" in near
    content = sheet_content(result_of("Far 200"), pictures={"crop": None, "frames": []})
    assert "By daylight, Blue is lighter than on the reference" in " ".join(content["words"])
    assert content["colour"]["patches"][0]["difference"]["verdict"] == "real"
    lines = {line[0]: line for line in colour_lines(content["colour"])}
    assert lines["Blue, difference from the reference"][6] == "real"
    assert lines["spread from roll to roll of one stock"][1] == pytest.approx(
        content["colour"]["spread"]["sd"]["value"]
    )


def test_too_few_rolls_leave_it_open_and_say_what_is_lacking(client_for, owner, admin, standards):
    read_rolls(owner, admin, standards, {"Reference 100": (-0.3, 0.3), "Far 200": (1.9,)})
    page = html.unescape(client_for(owner).get(reverse("colour_response")).text)
    assert "is not known yet: rolls beyond each stock’s first count as 1, at least 4 are needed" in page
    assert '<span class="colour-verdict">unknown</span>' in page and ">real<" not in page
    words = client_for(owner).get(f"/compare/words/{result_of('Far 200').stock_id}/").text
    assert "on the one roll that was read, Blue" in words
    assert "how far rolls of one stock differ in colour in this lab is not known yet" in words
    spread = client_for(owner).get(reverse("api_colour_response")).json()["spread"]
    assert spread["sd"]["value"] is None and spread["sd"]["reason"] == "TOO_FEW_GROUPS"


def test_series_by_another_light_and_rolls_that_do_not_count_stay_out(lab, owner, admin, standards):
    before = colour_response(owner).spread
    lamp = make_exposure(admin, "Lamplight", colour_temperature_k=3200)
    by_lamp = (standards[0], lamp)
    read_rolls(owner, admin, by_lamp, {"Lamp 100": (0.0, 2.0)})
    batch = result_of("Far 200").stock.batches.get()
    for how in ({"state": "draft"}, {"state": "accepted"}):
        roll = make_roll(owner, batch, standards)
        bracket(owner, roll, offsets=(0,), shifts={"Blue": -2.0})
        analyse(roll, **how)
    # The last one was accepted, but its curve could not be drawn.
    analysis = Analysis.objects.get(roll=roll)
    analysis.detail["curve"] = empty_curve().to_dict()
    Analysis.objects.filter(pk=analysis.pk).update(detail=analysis.detail)
    assert colour_response(owner).spread == before
    tungsten = colour_response(owner, pair_key=f"{standards[0].pk}-{lamp.pk}").spread
    assert (tungsten.sd.reason, tungsten.degrees_of_freedom) == ("TOO_FEW_GROUPS", 1)


def test_queries_do_not_grow_with_the_rolls(client_for, owner, lab, standards, django_assert_max_num_queries):
    client = client_for(owner)
    addresses = (reverse("colour_response"), f"/compare/words/{result_of('Near 100').stock_id}/")
    counts = []
    for _ in range(2):
        for address in addresses:
            client.get(address)
            with django_assert_max_num_queries(15) as told:  # two of them for who asks
                assert client.get(address).status_code == 200
            counts.append(len(told))
        roll = make_roll(owner, Roll.objects.latest("pk").batch, standards)
        bracket(owner, roll, offsets=(0,))
        analyse(roll)
    assert counts[:2] == counts[2:] and counts[0] <= 14
