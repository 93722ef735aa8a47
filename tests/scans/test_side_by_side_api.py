"""Side by side for scripts: the content of the page, and pictures that are what the page shows."""

import imagecodecs
import numpy as np
import pytest
from django.urls import reverse

from scans.queries.crops import SIZE_PX
from scans.queries.panes import MM_PER_INCH
from tests.factories.rolls import make_batch, make_roll, make_standards
from tests.factories.scripts import Script
from tests.scans.side_by_side_rows import make_frame

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def media_root(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def frames(owner, admin):
    """A frame as it is, and one that is turned, of a roll of another stock under the same standards."""
    standards = make_standards(admin)
    rolls = [make_roll(owner, make_batch(owner, name), standards) for name in ("Alder 100", "Birch 100")]
    return [
        make_frame(owner, name, roll=roll) for name, roll in zip(("straight", "turned"), rolls, strict=True)
    ]


def test_the_answer_holds_what_the_page_shows(frames, owner, client_for):
    pks = [scan.pk for scan in frames]
    query = f"scan={pks[0]}&scan={pks[1]}&region=edge"
    found = Script(owner).get("side-by-side/", query)
    page = client_for(owner).get(found["page_url"])
    view = page.context["view"]
    assert found["basis"] == view.basis == "film" and found["field_unit"] == "mm on the film"
    assert found["field_width"] == pytest.approx(view.field_of("edge"))
    # Of a screen of 96 pixels an inch, 480 pixels are 127 mm wide.
    assert found["enlargement"] == pytest.approx(SIZE_PX[0] / 96 * MM_PER_INCH / found["field_width"])
    assert found["notes"] == list(view.notes)
    for pane, (shown, still) in zip(found["panes"], page.context["panes"], strict=True):
        assert pane["stock"]["name"] == shown.scan.roll.batch.stock.name
        assert pane["differences"] == list(shown.differences)
        assert pane["is_reference"] == shown.is_reference
        assert pane["crop_url"].partition("?")[2] == still.partition("?")[2]
        assert pane["resolution_ppi"] == shown.frame.ppi
    assert {offered["scan_id"] for offered in found["offered"]} == set(pks)


def test_the_area_lies_round_its_middle_in_each_scan(frames, owner):
    found = Script(owner).get("side-by-side/", f"scan={frames[1].pk}&region=edge")
    (pane,) = found["panes"]
    corners = np.array([[corner["x"], corner["y"]] for corner in pane["area"]])
    middle = np.array([pane["middle"]["x"], pane["middle"]["y"]])
    assert np.all(corners.min(axis=0) < middle) and np.all(middle < corners.max(axis=0))
    across = corners[1] - corners[0]
    assert -np.degrees(np.arctan2(across[1], across[0])) == pytest.approx(pane["degrees"], abs=0.5)


def test_a_crop_is_the_still_of_the_page(frames, owner, client_for):
    found = Script(owner).get("side-by-side/", f"scan={frames[0].pk}&scan={frames[1].pk}")
    page = client_for(owner).get(found["page_url"])
    for pane, (_, still) in zip(found["panes"], page.context["panes"], strict=True):
        address, _, query = pane["crop_url"].partition("?")
        picture = Script(owner).call("get", address, query=query)
        assert picture["Content-Type"] == "image/png"
        assert picture.content == client_for(owner).get(still).content
        assert imagecodecs.png_decode(picture.content).shape == SIZE_PX[::-1]
    asks = {"HTTP_ACCEPT": "image/png"}
    assert Script(owner).client.get(found["panes"][0]["crop_url"], **asks).status_code == 200


def test_what_is_unlike_is_flagged(frames, owner):
    other = make_frame(owner, "fine")
    found = Script(owner).get("side-by-side/", f"scan={frames[0].pk}&scan={other.pk}&scan=999999")
    assert found["panes"][1]["differences"][0] == "roll not said, so standards are not known"
    assert found["missing"] == [999999]
    assert found["panes"][1]["stock"] is None


def test_newest_frames_of_stocks_can_be_asked_for(frames, owner):
    stocks = [scan.roll.batch.stock_id for scan in frames]
    bare = make_batch(owner, "Cedar 100").stock
    query = "&".join(f"stock={pk}" for pk in [*stocks, bare.pk])
    found = Script(owner).get("side-by-side/", query)
    assert [pane["scan_id"] for pane in found["panes"]] == [scan.pk for scan in frames]
    assert found["without_frame"] == ["Cedar 100"]


def test_without_scans_it_tells_what_there_is(frames, owner):
    found = Script(owner).get("side-by-side/")
    assert found["panes"] == [] and set(found["newest"]) == {scan.pk for scan in frames}
    assert found["page_url"] == reverse("side_by_side")


@pytest.mark.parametrize("query", ["region=moon", "zoom=0", "scan=x", "match=all", "surplus=1", "x=1e9"])
def test_what_cannot_be_asked_for_is_refused(owner, query):
    assert Script(owner).call("get", "side-by-side/", query=query).status_code == 400
