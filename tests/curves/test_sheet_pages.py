"""Exposure and processing sheets: true settings, what a camera cannot reach, and one page of A4 each."""

import pytest
from django.urls import reverse

from curves.models import ExposureRevision
from curves.queries.exposure_sheet import SheetSettings, exposure_sheet
from curves.services.rolls import add_strip
from labsite.common.errors import InvalidInput
from tests.factories.rolls import make_batch, make_roll, make_run, make_standards


@pytest.fixture
def roll(owner, admin):
    """A planned roll of an ISO 100 film."""
    return make_roll(owner, make_batch(owner), make_standards(admin))


def test_thirteen_frames_in_thirds_between_the_strip_and_a_blank(roll, owner):
    sheet = exposure_sheet(owner, roll.pk, SheetSettings(1 / 60, 8.0, 100.0))
    assert [frame.number for frame in sheet.frames] == list(range(1, 16))
    assert len(sheet.strips) == 1 and len(sheet.bracket) == 13
    metered = next(frame for frame in sheet.bracket if frame.is_metered)
    assert (metered.shutter_text, metered.aperture_text) == ("1/60 s", "f/8")
    assert sheet.unreachable == 0
    # A camera of third-stop apertures and whole-stop times reaches every third exactly.
    assert max(abs(f.setting.true_offset_stops - f.setting.offset_stops) for f in sheet.bracket) < 0.01


def test_frames_follow_exposure_and_index_together(roll, owner):
    """A third of a stop more exposure is a third of a stop less index: APEX, from memory."""
    sheet = exposure_sheet(owner, roll.pk, SheetSettings(1 / 60, 8.0, 100.0))
    by_offset = {round(f.setting.offset_stops, 2): f.setting.exposure_index for f in sheet.bracket}
    assert by_offset[-2.0] == pytest.approx(400) and by_offset[1.0] == pytest.approx(50)
    assert by_offset[0.33] == pytest.approx(79.37, abs=0.01)


def test_what_a_camera_cannot_reach_is_said_and_not_fudged(roll, owner):
    sheet = exposure_sheet(owner, roll.pk, SheetSettings(1 / 1000, 16.0, 100.0, smallest_aperture=16.0))
    assert sheet.unreachable == 6
    assert {f.setting.reason for f in sheet.bracket[:6]} == {"NO_CAMERA_SETTING"}
    assert all(f.setting.shutter_mark_s is None for f in sheet.bracket[:6])


def test_no_time_of_reciprocity_failure_is_asked_for(roll, owner):
    sheet = exposure_sheet(owner, roll.pk, SheetSettings(1 / 4, 8.0, 25.0))
    assert max(f.setting.shutter_mark_s for f in sheet.bracket if f.setting.shutter_mark_s) <= 0.5


def test_every_strip_has_a_frame_and_too_many_frames_are_refused(roll, owner):
    add_strip(actor=owner, roll_id=roll.pk)
    sheet = exposure_sheet(owner, roll.pk, SheetSettings(1 / 60, 8.0, 100.0))
    assert [frame.what[:26] for frame in sheet.strips] == [
        "Step tablet, strip 1: Tabl",
        "Step tablet, strip 2: Tabl",
    ]
    with pytest.raises(InvalidInput, match="holds 36"):
        exposure_sheet(owner, roll.pk, SheetSettings(1 / 60, 8.0, 100.0, span_stops=5.0, per_stop=4))


def test_the_sheet_starts_from_the_boxs_speed_and_keeps_what_is_asked(client_for, roll, owner):
    client = client_for(owner)
    page = client.get(reverse("roll_exposure_sheet", args=[roll.pk]))
    assert page.status_code == 200 and "for ISO <strong>100</strong>" in page.text
    page = client.get(
        reverse("roll_exposure_sheet", args=[roll.pk]), {"shutter": "1/125", "aperture": "5,6", "speed": "80"}
    )
    assert "1/125 s at f/5,6" in page.text
    assert "1/30 is 1/32 s" in page.text and "reciprocity" in page.text


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ({"shutter": "fast"}, "Write a shutter time such as 1/125"),
        ({"shutter": "1/0"}, "Write a shutter time"),
        ({"aperture": "0"}, "greater than or equal to 0.7"),
        ({"speed": ""}, "This field is required"),
        ({"span": "9"}, "less than or equal to 5"),
        ({"widest": "16", "smallest": "4"}, "The smallest aperture has the greater f-number"),
        ({"span": "5", "per_stop": "7"}, "Select a valid choice"),
    ],
)
def test_bad_settings_are_told(client_for, roll, owner, query, words):
    answer = client_for(owner).get(reverse("roll_exposure_sheet", args=[roll.pk]), query)
    assert answer.status_code == 400
    assert words in answer.text


def test_the_processing_sheet_says_what_the_standard_says_and_leaves_room(client_for, roll, owner):
    page = client_for(owner).get(reverse("roll_processing_sheet", args=[roll.pk])).text
    for words in ("Hearth D", "20 °C", "± 0.5 °C", "8 min 30 s", "first 30 s", "safety data sheet"):
        assert words in page
    assert page.count("sheet-line") == 6


def test_the_processing_sheet_fills_in_the_run(client_for, roll, owner):
    from curves.services.rolls import assign_run

    run = make_run(owner, roll.process_revision, developer_batch="mixed 2026-05", films_through=7)
    assign_run(actor=owner, roll_id=roll.pk, run_id=run.pk)
    page = client_for(owner).get(reverse("roll_processing_sheet", args=[roll.pk])).text
    assert "mixed 2026-05" in page and "<dd>7</dd>" in page


def test_in_contact_the_camera_s_frames_are_of_the_target_and_not_of_the_tablet(client_for, roll, owner):
    """The standard's own words describe the tablet: they are no target of the camera."""
    ExposureRevision.objects.filter(pk=roll.exposure_revision_id).update(
        target="Step tablet A, emulsion to emulsion"
    )
    sheet = exposure_sheet(owner, roll.pk, SheetSettings(1 / 60, 8.0, 100.0))
    assert sheet.is_contact and len(sheet.bracket) == 13
    assert {frame.what for frame in sheet.bracket} == {"Grey card and target"}
    page = client_for(owner).get(reverse("roll_exposure_sheet", args=[roll.pk])).text
    assert "emulsion to emulsion" not in page and "as for the tablet" not in page
    assert "exposed in contact" in page


def test_a_photographed_tablet_is_said(client_for, roll, owner):
    ExposureRevision.objects.filter(pk=roll.exposure_revision_id).update(method="tablet_photographed")
    assert (
        "The tablet is photographed"
        in client_for(owner).get(reverse("roll_exposure_sheet", args=[roll.pk])).text
    )
