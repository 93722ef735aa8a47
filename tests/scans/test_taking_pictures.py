"""Grain and sharpness taken from a scan into its roll: by whom, when, why not, and what ends them."""

import pytest
from django.urls import reverse

from curves.models import PictureMeasure, RollState
from curves.services.picture_measures import end_picture_measure
from labsite.common.errors import InvalidInput, NotAllowed, NotFound, WrongState
from scans.models import ScannerCalibration, Shows
from scans.services.taking_pictures import take_picture
from scans.services.voiding import void_calibration
from tests.factories.pictures import picture_scan
from tests.factories.rolls import make_batch, make_roll, make_standards
from tests.factories.scans import bare_scan, calibration_row, make_scanner

GRAIN = {"value": 9.4, "low": 9.0, "high": 9.8, "note": "between steps of density 0.80 and 1.20"}


@pytest.fixture
def roll(owner, admin, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    return make_roll(owner, make_batch(owner), make_standards(admin))


@pytest.fixture
def scanner(admin):
    return make_scanner(admin)


@pytest.fixture
def field(owner, roll, scanner):
    calibration_row(bare_scan(owner, roll, scanner, name="strip"))
    return picture_scan(owner, roll, scanner, measure=GRAIN)


def test_a_taken_number_says_all_that_it_rests_on_and_twice_adds_nothing(field, owner, roll):
    taken = take_picture(actor=owner, scan_id=field.pk)
    assert take_picture(actor=owner, scan_id=field.pk) == taken
    assert (taken.roll, taken.name) == (roll, "rms_granularity")
    assert (taken.value, taken.low, taken.high) == (9.4, 9.0, 9.8)
    assert taken.rig.startswith("Flatbed 3: ") and "mode linear" in taken.rig
    assert (taken.source_name, taken.source_url) == (field.code, f"/scans/{field.pk}/")
    assert PictureMeasure.objects.count() == 1


def test_another_scan_by_the_same_rig_ends_the_first_with_its_reason(field, owner, roll, scanner):
    first = take_picture(actor=owner, scan_id=field.pk)
    again = picture_scan(owner, roll, scanner, measure=GRAIN | {"value": 9.5})
    second = take_picture(actor=owner, scan_id=again.pk)
    first.refresh_from_db()
    assert not first.is_current and first.ended_reason == f"Read anew from {again.code}."
    assert second.is_current


@pytest.mark.parametrize(
    ("measure", "said"),
    [
        ({"reason": "SCANNER_UNKNOWN", "note": "its MTF is not known"}, "MTF is not known"),
        ({"value": 40.0, "high": 42.0}, "Try the scanner"),
    ],
)
def test_what_is_withheld_or_only_bounded_is_not_taken(measure, said, owner, roll, scanner, client_for):
    scan = picture_scan(owner, roll, scanner, Shows.EDGE, measure=measure)
    with pytest.raises(WrongState, match=said):
        take_picture(actor=owner, scan_id=scan.pk)
    page = client_for(owner).get(reverse("scan", args=[scan.pk])).content.decode()
    assert said in page.replace("&#x27;", "'")


def test_numbers_whose_grounds_have_changed_are_not_taken(field, owner):
    field.settings = field.settings | {"holder": "glass"}
    field.save()
    with pytest.raises(WrongState, match="changed since"):
        take_picture(actor=owner, scan_id=field.pk)


def test_before_review_the_member_takes_and_after_it_an_admin(field, owner, labmate, admin, roll):
    with pytest.raises(NotAllowed, match="only its member"):
        take_picture(actor=labmate, scan_id=field.pk)
    type(roll).objects.filter(pk=roll.pk).update(state=RollState.SUBMITTED)
    with pytest.raises(WrongState, match="submitted"):
        take_picture(actor=owner, scan_id=field.pk)
    type(roll).objects.filter(pk=roll.pk).update(state=RollState.ACCEPTED)
    with pytest.raises(NotAllowed, match="only an admin"):
        take_picture(actor=owner, scan_id=field.pk)
    assert take_picture(actor=admin, scan_id=field.pk).taken_by == admin


def test_ending_needs_a_reason_and_happens_once(field, owner):
    taken = take_picture(actor=owner, scan_id=field.pk)
    with pytest.raises(InvalidInput, match="Say why"):
        end_picture_measure(actor=owner, roll_id=taken.roll_id, measure_id=taken.pk, reason=" ")
    ended = end_picture_measure(
        actor=owner, roll_id=taken.roll_id, measure_id=taken.pk, reason="dust on the field"
    )
    assert not ended.is_current and ended.ended_by == owner
    with pytest.raises(WrongState, match="already"):
        end_picture_measure(actor=owner, roll_id=taken.roll_id, measure_id=taken.pk, reason="dust")
    with pytest.raises(NotFound):
        end_picture_measure(actor=owner, roll_id=taken.roll_id, measure_id=10**6, reason="dust")


def test_the_roll_s_page_lists_what_stands_and_ends_it(field, owner, roll, client_for):
    taken = take_picture(actor=owner, scan_id=field.pk)
    client = client_for(owner)
    assert field.code in client.get(reverse("roll_pictures", args=[roll.pk])).content.decode()
    address = reverse("roll_picture_end", args=[roll.pk, taken.pk])
    refused = client.post(address, {"reason": ""})
    assert refused.status_code == 400 and "field is required" in refused.content.decode()
    page = client.post(address, {"reason": "dust on the field"}, follow=True).content.decode()
    assert "dust on the field" in page and "Nothing stands yet" in page
    told = client.get(f"/api/v1/rolls/{roll.pk}/picture-measures/").json()["results"]
    assert [(each["is_current"], each["ended_reason"]) for each in told] == [(False, "dust on the field")]


def test_a_void_calibration_ends_what_was_taken_by_it(field, owner, admin):
    taken = take_picture(actor=owner, scan_id=field.pk)
    calibration = ScannerCalibration.objects.get()
    void_calibration(actor=admin, calibration_id=calibration.pk, reason="tablet was scratched")
    taken.refresh_from_db()
    assert not taken.is_current and "tablet was scratched" in taken.ended_reason


def test_the_page_takes_and_says_so(field, owner, client_for):
    client = client_for(owner)
    page = client.get(reverse("scan", args=[field.pk])).content.decode()
    assert "Take the granularity into roll" in " ".join(page.split())
    answer = client.post(reverse("scan_take_picture", args=[field.pk]), follow=True)
    assert "stands for the roll now" in answer.content.decode()
    assert "taken by Ola Ownfield" in answer.content.decode()
