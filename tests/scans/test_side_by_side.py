"""Side by side: one place, one scale, one grey; what is not alike is said; crops show what viewers do."""

import imagecodecs
import numpy as np
import pytest
from django.http import QueryDict
from django.urls import reverse

from curves.models import HouseReference
from labsite.accounts.services import update_lab
from labsite.common.errors import InvalidInput
from scans.imaging.calibrate_store import calibration_from_dict
from scans.imaging.decode import read_picture
from scans.imaging.density import Area, read_areas
from scans.imaging.homography import carried
from scans.imaging.target_layout import HOUSE_TARGET
from scans.models import Measurement, Shows
from scans.pages.viewing.selection import Selection
from scans.queries.crops import SIZE_PX, Crop, cropped
from scans.queries.panes import MM_PER_INCH
from scans.queries.setups import setup_digest
from scans.queries.side_by_side import (
    newest_of_each_stock,
    offered_pictures,
    reference_under,
    side_by_side,
)
from tests.factories.instruments import make_instrument
from tests.factories.rolls import make_accepted_roll, make_batch, make_roll, make_standards
from tests.factories.standards import make_process, make_tablet
from tests.scans.side_by_side_rows import PPI, make_frame
from tests.scans.viewing_rows import cut_here, levels_of, make_calibration, make_scan

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def media_root(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def frames(owner):
    return [make_frame(owner, name) for name in ("straight", "turned", "mirrored", "fine")]


def measure(scan, calibration):
    """The standing densities of a scan's placed areas."""
    picture = read_picture(scan.file.path).picture
    placed = [Area(area["label"], area["corners"]) for area in scan.placements.get().areas]
    read = read_areas(picture, placed, calibration_from_dict(calibration.document))
    return Measurement.objects.create(
        scan=scan,
        kind="density",
        calibration=calibration,
        engine_version="1",
        input_digest=f"{scan.pk:064}",
        document={"areas": [area.to_dict() for area in read]},
    )


@pytest.fixture
def calibrated(frames, owner, admin):
    """All frames from one scanner, whose calibration they are read and coded by."""
    scanner, tablet = make_instrument(admin), make_tablet(admin, "Tablet of the lab")
    for scan in frames:
        scan.scanner = scanner
        # The frames' resolutions differ; the settings that a member told make them one set-up no more.
        scan.save()
    for number, scan in enumerate(frames[:2]):
        if number == 0:
            calibration = make_calibration(owner, scan, scanner, tablet)
            calibration.setup_digest, calibration.valid_days = setup_digest(scan), 5000
            calibration.save()
        measure(scan, calibration)
        cut_here(scan, calibration)
    return frames


def test_every_pane_looks_at_the_same_place_at_one_size_of_the_film(frames, owner):
    view = side_by_side(owner, [scan.pk for scan in frames])
    assert view.basis == "film"
    assert [pane.px_per("film") for pane in view.panes] == pytest.approx(
        [PPI / MM_PER_INCH] * 3 + [2 * PPI / MM_PER_INCH]
    )
    assert [pane.is_mirrored for pane in view.panes] == [False, False, True, False]
    # The film lay 2 degrees askew one way, and 1.5 the other way after it was mirrored; each is turned back.
    assert [pane.degrees for pane in view.panes] == pytest.approx([0, -2, 1.5, 0], abs=0.01)
    for pane, scan in zip(view.panes, frames, strict=True):
        card = next(area for area in scan.placements.get().areas if area["label"] == "grey card")
        middle = np.mean(card["corners"], axis=0)
        # Corners are kept to a hundredth of a pixel.
        assert pane.place_of(HOUSE_TARGET.region("grey card").centre) == pytest.approx(middle, abs=0.02)


@pytest.mark.parametrize("name", ["straight", "turned", "mirrored", "fine"])
def test_a_crop_shows_the_place_upright_and_at_its_size(frames, owner, name):
    index = ["straight", "turned", "mirrored", "fine"].index(name)
    view = side_by_side(owner, [scan.pk for scan in frames])
    pane, width_mm = view.panes[index], 30.0
    x, y = pane.place_of((HOUSE_TARGET.width / 2, HOUSE_TARGET.height / 2))
    width = width_mm * pane.px_per("film")
    shown = cropped(pane.frame.pyramid, Crop(x, y, width, pane.degrees, pane.is_mirrored))
    assert shown.shape == SIZE_PX[::-1]
    # Every region's middle lies in the crop where the target has it, by the scale on the film alone.
    shown_per_unit = pane.px_per_target_unit * SIZE_PX[0] / width
    samples = read_picture(pane.scan.file.path).picture.samples
    for region in HOUSE_TARGET.regions[:2]:
        away = np.array(region.centre) - (HOUSE_TARGET.width / 2, HOUSE_TARGET.height / 2)
        column, row = np.rint(shown_per_unit * away + (np.array(SIZE_PX) - 1) / 2).astype(int)
        px, py = np.rint(pane.place_of(region.centre)).astype(int)
        patch = samples[py - 8 : py + 9, px - 8 : px + 9].mean() / 65535
        light = 1.055 * patch ** (1 / 2.4) - 0.055  # the curve of sRGB, by which levels are shown
        assert shown[row - 4 : row + 5, column - 4 : column + 5].mean() / 255 == pytest.approx(
            light, abs=0.02
        )
    up = shown[: SIZE_PX[1] // 3].astype(float)
    # The steps run along the top: the picture is not upside down, and they darken from left to right,
    # on a negative from dense to clear.
    assert up[:, 330:400].mean() > up[:, 80:150].mean()


def test_a_crop_beyond_the_picture_is_mid_grey(frames, owner):
    pane = side_by_side(owner, [frames[0].pk]).panes[0]
    assert np.all(cropped(pane.frame.pyramid, Crop(-9000, -9000, 100)) == 119)
    partly = cropped(pane.frame.pyramid, Crop(0, 0, 200))
    assert np.all(partly[:150, :230] == 119) and not np.all(partly[170:, 250:] == 119)


def test_a_crop_of_a_small_part_shows_the_pixels_themselves(frames, owner):
    pane = side_by_side(owner, [frames[0].pk]).panes[0]
    samples = read_picture(pane.scan.file.path).picture.samples
    shown = cropped(pane.frame.pyramid, Crop(200.5, 150.5, 48))
    share = samples[135:167, 177:225].astype(float) / 65535
    expected = np.rint(255 * np.where(share <= 0.0031308, 12.92 * share, 1.055 * share ** (1 / 2.4) - 0.055))
    assert np.array_equal(shown, np.repeat(np.repeat(expected, 10, axis=0), 10, axis=1))


@pytest.mark.parametrize(
    "query", ["", "x=1&y=1", "x=a&y=1&width=9", "x=1&y=nan&width=9", "x=1&y=1&width=0", "x=1e99&y=1&width=9"]
)
def test_a_crop_that_makes_no_sense_is_refused(query):
    with pytest.raises(InvalidInput):
        Crop.from_query(QueryDict(query))


def test_the_grey_card_is_brought_to_the_density_of_the_references(calibrated, owner):
    view = side_by_side(owner, [scan.pk for scan in calibrated])
    reference, other, *rest = view.panes
    assert reference.is_reference and other.match.offset.value is not None
    read = [pane.grey_density.value for pane in (reference, other)]
    assert other.offset_value == pytest.approx(read[0] - read[1])
    shown = []
    for pane in (reference, other):
        factor, added = pane.tone(view.density_range, is_matched=True)
        x, y = pane.place_of(HOUSE_TARGET.region("grey card").centre)
        part = cropped(pane.frame.pyramid, Crop(x, y, 60, pane.degrees, pane.is_mirrored, factor, added))
        shown.append(part.mean())
    # Half a code of rounding in either, and the edges of what was read against what is shown.
    assert shown[0] == pytest.approx(shown[1], abs=1.5)
    assert "D applied" in other.offset_text and "±" in other.offset_text
    for pane in rest:
        assert pane.offset_value is None
        assert pane.why_unmatched == "not matched: no calibration of this scanner set-up"


def test_tones_are_one_scale_of_density_and_turn_over_for_a_negative(calibrated, owner):
    view = side_by_side(owner, [scan.pk for scan in calibrated[:2]])
    low, high = view.density_range
    for pane in view.panes:
        factor, added = pane.tone(view.density_range, is_matched=False)
        for code in (0, 100, 255):
            density = pane.coding.low + pane.coding.step * code
            assert factor * code / 255 + added == pytest.approx((density - low) / (high - low))
        turned = pane.tone(view.density_range, is_matched=False, is_positive=False)
        assert turned == pytest.approx((-factor, 1 - added))


def test_a_print_is_positive_as_it_is(owner):
    frame, scan = make_frame(owner, "straight"), make_frame(owner, "turned", shows=Shows.PRINT)
    view = side_by_side(owner, [frame.pk, scan.pk])
    assert view.basis == "target" and "Frames and prints are mixed" in view.notes[0]
    assert [pane.tone(None, is_matched=True) for pane in view.panes] == [(-1.0, 1.0), (1.0, 0.0)]
    assert "a print beside a frame" in view.panes[1].differences


def test_what_is_not_like_the_reference_is_said_of_each_pane(owner, admin):
    batch, standards = make_batch(owner), make_standards(admin)
    other = make_process(admin, "Other process")
    rolls = [make_roll(owner, batch, standards), make_roll(owner, batch, (other, standards[1]))]
    frames = [
        make_frame(owner, name, roll=roll) for name, roll in zip(("straight", "turned"), rolls, strict=True)
    ]
    HouseReference.objects.create(
        stock=batch.stock, process_revision=other, exposure_revision=standards[1], appointed_by=admin
    )
    view = side_by_side(owner, [scan.pk for scan in frames])
    assert [pane.is_reference for pane in view.panes] == [False, True], "the house reference, not the first"
    assert view.panes[0].differences == (f"other process: {standards[0]}",)
    assert view.panes[1].differences == ()
    assert view.notes == ()
    frames[0].settings = {"holder": "glass"}
    frames[0].save()
    view = side_by_side(owner, [scan.pk for scan in frames])
    assert "other scanner or settings" in view.panes[0].differences
    assert "Not all were scanned with one scanner" in view.notes[0]


def test_a_frame_without_a_found_target_or_resolution_says_so(owner):
    known = make_frame(owner, "straight")
    scan = make_frame(owner, "turned")
    scan.placements.all().delete()
    scan.file.resolution_x_ppi = scan.file.resolution_y_ppi = None
    scan.file.save()
    view = side_by_side(owner, [known.pk, scan.pk])
    assert view.basis == "target" and "resolution is not known" in view.notes[0]
    assert not view.panes[1].is_registered
    right, bottom = scan.file.width_px - 1, scan.file.height_px - 1
    assert view.panes[1].place_of((150, 100)) == pytest.approx((right / 2, bottom / 2))


def test_what_can_be_chosen_is_what_may_be_seen(owner, admin, visitor):
    update_lab(actor=admin, name="Lab", contact="", is_open_to_visitors=True)
    batch, standards = make_batch(owner), make_standards(admin)
    open_scan = make_frame(owner, "straight", roll=make_accepted_roll(owner, admin, batch, standards))
    hidden = make_frame(owner, "turned", roll=make_roll(owner, batch, standards), frame_label="frame 7")
    field = make_scan(owner, levels_of(np.full((60, 90), 0.5)), shows=Shows.FIELD)
    cut_here(field)
    assert offered_pictures(owner) == {
        batch.stock.name: [
            (hidden.pk, f"frame 7, {hidden.roll.code}, {hidden.code}"),
            (open_scan.pk, f"frame, {open_scan.roll.code}, {open_scan.code}"),
        ]
    }
    assert [pk for scans in offered_pictures(visitor).values() for pk, _ in scans] == [open_scan.pk]
    view = side_by_side(visitor, [hidden.pk, open_scan.pk])
    assert [pane.scan.pk for pane in view.panes] == [open_scan.pk] and view.missing == (hidden.pk,)
    assert side_by_side(visitor, [hidden.pk]) is None
    assert newest_of_each_stock(owner) == [hidden.pk]


def test_queries_do_not_grow_with_the_pictures(frames, owner, django_assert_num_queries):
    with django_assert_num_queries(5):
        side_by_side(owner, [scan.pk for scan in frames[:2]])
    with django_assert_num_queries(5):
        side_by_side(owner, [scan.pk for scan in frames])


def test_an_address_holds_every_choice_and_nothing_else():
    choices = "region=edge&match=none&tone=negative&x=12.5&y=80&zoom=31.5&print_scale=12"
    selection = Selection.from_query(QueryDict(f"scan=3&scan=1&scan=3&scan=x&scan=&{choices}"))
    assert selection.scans == (3, 1)
    assert selection.query() == f"scan=3&scan=1&{choices}"
    assert Selection.from_query(QueryDict(selection.query())) == selection
    nonsense = "region=moon&match=all&tone=blue&x=inf&y=..&zoom=-3&print_scale=9000"
    assert Selection.from_query(QueryDict(nonsense)) == Selection(scans=())


def test_the_page_shows_stills_and_a_table_without_script(calibrated, owner, client_for):
    client = client_for(owner)
    answer = client.get(reverse("side_by_side"), {"scan": [scan.pk for scan in calibrated], "region": "edge"})
    assert answer.status_code == 200
    stills = [still for _, still in answer.context["panes"]]
    assert len(stills) == 4
    for still in stills:
        picture = client.get(still)
        assert picture.status_code == 200 and picture["Content-Type"] == "image/png"
        assert imagecodecs.png_decode(picture.content).shape == SIZE_PX[::-1]
    text = answer.content.decode()
    assert text.count("D applied") == 2 and "no calibration of this scanner set-up" in text
    assert "Not all were scanned with one scanner and one set of settings" in text


def test_the_page_without_scans_leads_to_the_newest_frames(owner, admin, client_for):
    empty = client_for(owner).get(reverse("side_by_side")).content.decode()
    assert "Nothing to set side by side yet" in empty
    standards = make_standards(admin)
    for number, name in enumerate(("straight", "turned")):
        batch = make_batch(owner, name=f"Invented {number}") if number else make_batch(owner)
        make_frame(owner, name, roll=make_roll(owner, batch, standards))
    page = client_for(owner).get(reverse("side_by_side"))
    assert page.context["newest_url"].count("scan=") == 2
    assert client_for(owner).get(page.context["newest_url"]).status_code == 200


def test_stocks_of_a_comparison_lead_to_their_frames_after_the_reference_and_back(owner, admin, client_for):
    standards, client = make_standards(admin), client_for(owner)
    batches = [make_batch(owner, name=f"Invented {number}") for number in range(3)]
    scans = [
        make_frame(owner, name, roll=make_roll(owner, batch, standards)).pk
        for name, batch in zip(("straight", "turned"), batches, strict=False)
    ]
    HouseReference.objects.create(
        stock=batches[1].stock,
        process_revision=standards[0],
        exposure_revision=standards[1],
        appointed_by=admin,
    )
    pair = f"{standards[0].pk}-{standards[1].pk}"
    asked = f"standards={pair}&stock={batches[0].stock_id}"
    answer = client.get(f"{reverse('side_by_side')}?{asked}", follow=True)
    assert answer.context["selection"].scans == (scans[1], scans[0]), "the reference stands first"
    assert answer.context["tabs"][0]["url"] == f"/compare/?{asked}&again=1"
    assert f'name="stock" value="{batches[0].stock_id}"' in answer.text, "choosing anew keeps them"
    # Of a stock without a frame that is said, and the way back is the same.
    asked = f"stock={batches[2].stock_id}"
    answer = client.get(f"{reverse('side_by_side')}?{asked}", follow=True)
    assert not answer.redirect_chain and "No frame is scanned yet of Invented 2" in answer.text
    assert answer.context["tabs"][0]["url"] == f"/compare/?{asked}&again=1"
    for nonsense in ("9999999999-1", "1-", "a-b", ""):
        assert reference_under(nonsense) is None
    assert reference_under(pair) == batches[1].stock_id


def test_places_carried_there_and_back_agree(frames, owner):
    pane = side_by_side(owner, [frames[1].pk]).panes[0]
    back = np.linalg.inv(np.array(pane.homography))
    assert carried(back, [pane.place_of((40, 60))])[0] == pytest.approx((40, 60))
