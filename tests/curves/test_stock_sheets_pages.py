"""The published sheet's page and files, and the same by script: all from what the version keeps."""

import csv
import hashlib
import io
import json

import pytest
from defusedxml import ElementTree
from django.urls import reverse
from openpyxl import load_workbook

from curves.models import Roll, SheetVersion, StockResult
from curves.queries.sheet_content import content_digest
from curves.services.reviews import void_roll
from labsite.accounts.services import update_profile
from labsite.jobs.runner import run_waiting_jobs
from tests.factories.labs import lab_standards, make_stocks, open_lab
from tests.factories.rolls import make_accepted_roll, make_standards
from tests.factories.sheets import full_sheet


@pytest.fixture
def standards(admin):
    return lab_standards(admin)


def build_lab(owner, admin):
    stocks = make_stocks(owner, admin, make_standards(admin))
    run_waiting_jobs()
    return stocks


def newest(stock) -> SheetVersion:
    return SheetVersion.objects.filter(stock=stock).order_by("-number").first()


def address(name: str, version: SheetVersion, **more) -> str:
    place = {"stock_id": version.stock_id, "pair_key": version.pair_key, "number": version.number}
    return reverse(name, kwargs=place | more)


def file_of(client, version, kind):
    answer = client.get(address("stock_sheet_data", version, file_kind=kind))
    assert answer.status_code == 200
    return answer


def test_the_page_shows_what_is_kept_and_how_to_cite_it(lab, owner, visitor, client_for):
    open_lab()
    version = newest(lab["birch"])
    client = client_for(visitor)
    text = client.get(reverse("stock_sheet", args=[lab["birch"].pk, version.pair_key])).text
    for sentence in version.content["words"] + version.content["difference_words"]:
        assert sentence.replace("'", "&#x27;") in text
    assert "Stock sheet, version 2" in text
    assert "no price entered" in text
    assert version.digest in text
    assert f"http://testserver{address('stock_sheet_version', version)}" in text
    assert 'class="cp-line-reference"' in text, "the curve lies over the reference's"
    assert "Held against Alder 100 now." in text
    assert "A newer version" not in text
    old = client.get(address("stock_sheet_version", SheetVersion.objects.get(stock=lab["birch"], number=1)))
    assert "A newer version is published" in old.text
    assert address("stock_sheet_version", version) in old.text
    any_pair = client.get(reverse("stock_sheets", args=[lab["birch"].pk]))
    assert any_pair.url == reverse("stock_sheet", args=[lab["birch"].pk, version.pair_key])


def test_members_are_named_as_they_want_now_and_the_version_stays(lab, owner, client_for):
    version = newest(lab["birch"])
    client = client_for(owner)
    code = Roll.objects.get(batch__stock=lab["birch"]).code
    profile = {"display_name": owner.display_name, "initials": owner.initials, "email": owner.email}
    for credit, said, unsaid in (
        ("name", "Tested by Ola Ownfield.", "Tested by OO."),
        ("initials", "Tested by OO.", "Ola Ownfield."),
        ("none", "not named", "Tested by"),
    ):
        update_profile(actor=owner, **profile, credit=credit)
        text = client.get(address("stock_sheet_version", version)).text
        assert said in text
        assert unsaid not in text
        document = json.loads(file_of(client, version, "json").text)
        assert document["members"] == {
            code: {"name": "Ola Ownfield", "initials": "OO"}.get(credit),
        }
        assert content_digest(document["content"]) == version.digest == document["sheet"]["digest_sha256"]


def test_files_hold_the_numbers_of_the_page(lab, owner, client_for):
    version = newest(lab["birch"])
    client = client_for(owner)
    lines = list(csv.DictReader(io.StringIO(file_of(client, version, "csv").text)))
    pooled = StockResult.objects.get(stock=lab["birch"]).pooled
    measures = {line["item"]: line for line in lines if line["section"] == "measures"}
    assert set(measures) == set(pooled.measures)
    stored = pooled.measures["average_gradient_150"]
    for part in ("value", "low", "high"):
        assert float(measures["average_gradient_150"][part]) == pytest.approx(stored[part], abs=1e-6)
    curve = [line for line in lines if line["section"] == "curve"]
    assert len(curve) == len(pooled.detail["curve"]["density"])
    assert float(curve[-1]["value"]) == pytest.approx(pooled.detail["curve"]["density"][-1], abs=1e-6)
    assert any(line["section"] == "curve of the reference" for line in lines)

    first, again = (file_of(client, version, "xlsx").content for _ in range(2))
    assert hashlib.sha256(first).digest() == hashlib.sha256(again).digest()
    book = load_workbook(io.BytesIO(first))
    rows = {row[0].value: row for row in book["Measures"].iter_rows()}
    assert rows["average_gradient_150"][1].value == pytest.approx(stored["value"], abs=1e-6)
    assert book["Curve"].max_row == len(curve) + 1


def test_the_figure_is_a_picture_by_itself(lab, owner, client_for):
    version = newest(lab["birch"])
    answer = client_for(owner).get(address("stock_sheet_figure", version))
    assert answer["Content-Type"] == "image/svg+xml"
    picture = ElementTree.fromstring(answer.text)
    named = {each.text for each in picture.iter("{http://www.w3.org/2000/svg}text")}
    assert {"Birch 200", "Alder 100"} <= named
    assert picture.get("width")


def test_a_full_sheet_shows_all_that_was_measured_and_tells_what_it_leaves_out(lab, owner, client_for):
    version = full_sheet(newest(lab["birch"]))
    client = client_for(owner)
    text = client.get(address("stock_sheet_version", version)).text
    assert "And 7 more, in the files and on the site." in text, "five of twelve rolls have room"
    assert "All 12 rolls" in text
    assert "flesh dark" in text
    assert text.count("0.155 EUR") == 3 and "And 2 more, in the files and on the site." in text
    assert "within 0.03 D of the aims" in text
    picture = client.get(address("stock_sheet_picture", version))
    assert hashlib.sha256(picture.content).hexdigest() == version.content["crop"]["picture"]
    sections = {line.split(",")[0] for line in file_of(client, version, "csv").text.splitlines()}
    assert {"grain and sharpness", "colour response", "cost", "other processing", "rolls"} <= sections


def test_what_counts_no_more_and_a_lost_result_are_told(lab, owner, admin, standards, client_for):
    roll = make_accepted_roll(owner, admin, lab["birch"].batches.get(), standards, seed=9, speed_point=-1.9)
    with_both = newest(lab["birch"])
    void_roll(actor=admin, roll_id=roll.pk, reasons="Light leak.")
    run_waiting_jobs()
    text = client_for(owner).get(address("stock_sheet_version", with_both)).text
    assert f"{roll.code} is void since." in text
    assert "A newer version is published" in text


def test_by_script_versions_are_listed_read_and_published(lab, owner, admin, client_for):
    version = newest(lab["birch"])
    client = client_for(owner)
    listed = client.get(reverse("api_sheets", args=[lab["birch"].pk])).json()["results"]
    assert [each["number"] for each in listed] == [2, 1]
    place = {"stock_id": version.stock_id, "pair_key": version.pair_key, "version_number": version.number}
    document = client.get(reverse("api_sheet", kwargs=place)).json()
    assert document == json.loads(file_of(client, version, "json").text)
    del place["version_number"]
    asked = {"data": {"reason": "Prices."}, "content_type": "application/json"}
    assert client.post(reverse("api_sheet_publish", kwargs=place), **asked).status_code == 403
    answer = client_for(admin).post(reverse("api_sheet_publish", kwargs=place), **asked)
    assert answer.json()["kind"] == "publish_sheet"


def test_a_page_takes_few_queries_however_many_rolls_and_versions(
    lab, owner, client_for, django_assert_max_num_queries
):
    version = newest(lab["birch"])
    for _ in range(3):
        version = full_sheet_again(version)
    client = client_for(owner)
    with django_assert_max_num_queries(17):
        assert client.get(address("stock_sheet_version", version)).status_code == 200


def full_sheet_again(version: SheetVersion) -> SheetVersion:
    version.pk, version.number = None, version.number + 1
    version.save(force_insert=True)
    return version
