"""Tiles go to those who may see the scan, are kept by the browser, and lead to no other file."""

import shutil

import numpy as np
import pytest
from django.urls import reverse
from django.utils import timezone

from labsite.accounts.services import update_lab
from labsite.jobs.models import Job
from labsite.jobs.runner import run_waiting_jobs
from scans.models import Shows
from scans.queries.setups import setup_digest, setup_of
from scans.queries.tiles import editor_source, shown_pyramid
from tests.factories.instruments import make_instrument
from tests.factories.rolls import make_accepted_roll, make_batch, make_roll, make_standards
from tests.factories.standards import make_tablet
from tests.scans.viewing_rows import cut_here, levels_of, make_calibration, make_scan

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def media_root(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def samples():
    return levels_of(np.linspace(0.3, 1.8, 420) + np.zeros((300, 1)))


@pytest.fixture
def scan(owner, samples):
    return make_scan(owner, samples, shows=Shows.FRAME)


def address(pyramid, level=0, column=0, row=0, kind="png"):
    return reverse("scan_tile", args=[pyramid.pk, level, column, row, kind])


def test_a_tile_is_kept_for_ever_and_not_sent_twice(scan, client_for, labmate):
    pyramid, client = cut_here(scan), client_for(labmate)
    answer = client.get(address(pyramid, level=9, column=1, row=1))
    assert answer.status_code == 200 and answer["Content-Type"] == "image/png"
    assert answer.content == (pyramid.folder / "9/1_1.png").read_bytes()
    assert answer["Cache-Control"] == "private, max-age=31536000, immutable"
    again = client.get(address(pyramid, 9, 1, 1), headers={"If-None-Match": answer["ETag"]})
    assert again.status_code == 304 and again.content == b""
    other = client.get(address(pyramid, 9, 0, 0))
    assert other["ETag"] != answer["ETag"]


@pytest.mark.parametrize("page", ["scan_thumbnail", "scan_crop"])
def test_a_picture_that_is_gone_is_made_anew_by_looking(scan, client_for, labmate, page):
    pyramid, client = cut_here(scan), client_for(labmate)
    picture = reverse(page, args=[scan.pk]) + "?x=10&y=10&width=100"
    assert client.get(picture).status_code == 200
    shutil.rmtree(pyramid.folder)
    for _ in range(2):  # looking twice asks once
        assert client.get(picture).status_code == 404
    assert Job.objects.filter(kind="cut_tiles", state=Job.State.QUEUED).count() == 1
    run_waiting_jobs()
    assert client.get(picture).status_code == 200


@pytest.mark.parametrize("scan_id", [999, 10**30])
def test_looking_for_no_scan_has_nothing_made(scan, client_for, labmate, scan_id):
    shutil.rmtree(cut_here(scan).folder)
    assert client_for(labmate).get(reverse("scan_thumbnail", args=[scan_id])).status_code == 404
    assert not Job.objects.filter(kind="cut_tiles", state=Job.State.QUEUED).exists()


def test_head_asks_without_content(scan, client_for, labmate):
    assert client_for(labmate).head(address(cut_here(scan))).status_code == 200


@pytest.mark.parametrize(
    "wrong", [{"level": 99}, {"column": 7}, {"row": 7}, {"kind": "jpg"}, {"kind": "json"}], ids=str
)
def test_what_is_no_tile_is_not_found(scan, client_for, labmate, wrong):
    assert client_for(labmate).get(address(cut_here(scan), **wrong)).status_code == 404


@pytest.mark.parametrize(
    "path",
    [
        "0/..%2f..%2f0_0.png",
        "0/../thumbnail.png",
        "..%2f..%2f..%2flab.sqlite3",
        "0/0_0.png%00.jpg",
        "0/-1_0.png",
        "0/0_0.png/../../x",
    ],
)
def test_no_address_leads_out_of_the_folder_of_tiles(scan, client_for, labmate, path):
    pyramid = cut_here(scan)
    assert client_for(labmate).get(f"/scans/tiles/{pyramid.pk}/{path}").status_code == 404


def test_a_visitor_sees_tiles_of_accepted_rolls_alone(owner, admin, visitor, samples, client_for):
    update_lab(actor=admin, name="Lab", contact="", is_open_to_visitors=True)
    batch, standards = make_batch(owner), make_standards(admin)
    accepted = make_accepted_roll(owner, admin, batch, standards)
    shown = make_scan(owner, samples, roll=accepted)
    hidden = make_scan(owner, samples + 1, roll=make_roll(owner, batch, standards))
    client = client_for(visitor)
    shown_pyramid_row, hidden_pyramid_row = cut_here(shown), cut_here(hidden)
    assert client.get(address(shown_pyramid_row)).status_code == 200
    assert client.get(address(hidden_pyramid_row)).status_code == 404
    assert client.get(reverse("scan_thumbnail", args=[shown.pk])).status_code == 200
    assert client.get(reverse("scan_thumbnail", args=[hidden.pk])).status_code == 404
    shown.is_discarded, shown.discarded_at = True, timezone.now()
    shown.save()
    assert client.get(address(shown_pyramid_row)).status_code == 404


def test_a_scan_without_tiles_has_no_thumbnail_yet(scan, client_for, labmate):
    assert client_for(labmate).get(reverse("scan_thumbnail", args=[scan.pk])).status_code == 404


def test_a_calibrated_scan_is_shown_by_densities_and_others_by_levels(owner, admin, scan, samples):
    levels = cut_here(scan)
    scan.scanner = make_instrument(admin)
    scan.save()
    calibration = make_calibration(owner, scan, scan.scanner, make_tablet(admin, "Tablet of the lab"))
    calibration.setup_digest = setup_digest(scan)
    calibration.setup = {"scanner": "x", "settings": setup_of(scan).settings}
    calibration.valid_days = 5000
    calibration.save()
    assert shown_pyramid(scan) == levels, "there are no others yet"
    densities = cut_here(scan, calibration)
    scan.refresh_from_db()
    assert shown_pyramid(scan) == densities
    scan.settings = {"holder": "another one"}
    scan.save()
    assert shown_pyramid(scan) == levels


def test_the_editor_is_told_of_the_picture_and_of_what_is_placed(owner, scan):
    source = editor_source(scan, None)
    assert source["tiles"] is None and source["areas"] == [] and source["layout"] == "target"
    assert source["sheet"] == [300.0, 200.0] and len(source["patches"]) == 23
    pyramid = cut_here(scan)
    corners = [[10, 10], [60, 10], [60, 40], [10, 40]]
    placement = scan.placements.create(
        number=1,
        origin="found",
        layout="target",
        outline=corners,
        areas=[{"label": "grey card", "corners": corners}],
    )
    scan.file.refresh_from_db()
    measured = [{"label": "grey card", "text": "0.74", "flags": ["dust left out"]}]
    source = editor_source(scan, placement, measured=measured)
    assert source["tiles"]["url_template"] == f"/scans/tiles/{pyramid.pk}/{{level}}/{{column}}_{{row}}.png"
    assert source["areas"] == [{"corners": corners, **measured[0]}]
    assert source["outline_text"] == "[[10, 10], [60, 10], [60, 40], [10, 40]]"
    scan.shows = Shows.FIELD
    assert editor_source(scan, placement)["areas"] == [], "the target's areas are none of a field's"
