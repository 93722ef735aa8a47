"""The list of scans: who sees it, its filters, order, pages and export."""

import csv

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from scans.services.describing import describe_scan
from tests.factories.rolls import make_batch, make_roll, make_standards
from tests.factories.scans import make_scanner
from tests.factories.uploads import make_scan, upload_file

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def folder(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "files"


@pytest.fixture
def roll(owner, admin):
    return make_roll(owner, make_batch(owner), make_standards(admin))


@pytest.fixture
def scans(owner, labmate, admin, roll, tmp_path):
    """A described strip, an edge of another member, one of which nothing is said, one being checked."""
    strip, edge, silent = (
        make_scan(member, tmp_path, name, seed=seed)
        for seed, (member, name) in enumerate(
            [(owner, "strip.tif"), (labmate, "edge.tif"), (owner, "silent.tif")], start=1
        )
    )
    scanner = make_scanner(admin)
    describe_scan(
        actor=owner, scan_id=strip.pk, shows="strip", roll_id=roll.pk, scanner_id=scanner.pk, notes="=1+1"
    )
    describe_scan(actor=labmate, scan_id=edge.pk, shows="edge")
    fresh = upload_file(owner, b"no picture", "=cmd.tif")
    return {"strip": strip, "edge": edge, "silent": silent, "fresh": fresh, "scanner": scanner}


def listed(client, query=""):
    """The codes that the list shows, in order."""
    return [scan.code for scan, _ in client.get(f"/scans/?{query}").context["rows"]]


def test_filters_and_order(client_for, owner, scans, roll):
    client = client_for(owner)
    strip, edge, silent, fresh = (scans[name].code for name in ("strip", "edge", "silent", "fresh"))
    assert listed(client) == [fresh, silent, edge, strip]
    assert listed(client, "sort=scan") == [strip, edge, silent, fresh]
    assert listed(client, "is_mine=on") == [fresh, silent, strip]
    assert listed(client, f"roll={roll.pk}") == listed(client, f"roll_id={roll.pk}") == [strip]
    assert listed(client, "shows=edge") == [edge]
    assert listed(client, "shows=unknown&state=measurable") == [silent]
    assert listed(client, "state=unchecked") == [fresh]
    assert listed(client, f"scanner_id={scans['scanner'].pk}") == [strip]
    assert listed(client, f"member_id={scans['edge'].member_id}") == [edge]
    assert listed(client, "shows=nothing") == []


def test_a_thumbnail_is_shown_once_there_is_one(client_for, owner, scans):
    page = client_for(owner).get("/scans/").content.decode()
    assert page.count('<img class="scan-thumb"') == 3
    assert 'alt="strip.tif: film exposed through the step tablet"' in page


def test_the_export_holds_the_same_rows_and_no_formula(client_for, owner, scans):
    answer = client_for(owner).get("/scans/?export=csv&sort=scan")
    rows = list(csv.DictReader(answer.content.decode().splitlines()))
    assert [row["scan"] for row in rows] == [scans[n].code for n in ("strip", "edge", "silent", "fresh")]
    assert rows[3]["file"] == "'=cmd.tif"
    assert (rows[0]["roll"], rows[0]["strip"], rows[0]["resolution"]) == (
        scans["strip"].roll.code if scans["strip"].roll else rows[0]["roll"],
        "1",
        "2400 ppi",
    )


def test_a_roll_without_scans_offers_to_upload_one(client_for, owner, roll):
    page = client_for(owner).get(f"/scans/?roll={roll.pk}").content.decode()
    assert f'href="/scans/upload/?roll={roll.pk}"' in page


def test_the_number_of_queries_does_not_grow_with_the_scans(client_for, owner, scans, tmp_path):
    client = client_for(owner)

    def count():
        with CaptureQueriesContext(connection) as queries:
            client.get("/scans/")
        return len(queries)

    before = count()
    for seed in range(10, 14):
        make_scan(owner, tmp_path, f"{seed}.tif", seed=seed, is_checked=False)
    assert count() == before
