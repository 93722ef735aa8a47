"""Patches: what may be said and read of them, shifts of known truth, filters, and the matched frame."""

import csv
import html
import io
import math
import re

import pytest
from django.urls import reverse

from curves.models import Analysis, PatchReading, Roll, StockResult
from curves.pages.printing.patch_forms import patches_text, read_patches
from curves.queries.bracket_match import bracket_match
from curves.queries.colour_response import colour_response
from curves.queries.patches import roll_patches
from curves.queries.sheet_content import sheet_content
from curves.services.patch_readings import record_patch_frame
from curves.services.patch_sets import PatchValue, enter_patch_set
from labsite.common.errors import InvalidInput, NotAllowed, NotFound, WrongState
from tests.factories.patches import PATCHES, STOP, TRUTH, analyse, bracket, expose
from tests.factories.results import appoint, standing_result
from tests.factories.rolls import make_batch, make_roll, make_standards
from tests.factories.standards import make_exposure


@pytest.fixture
def standards(admin):
    return make_standards(admin)


@pytest.fixture
def roll(owner, admin, standards):
    """A planned roll whose target is known."""
    enter_patch_set(
        actor=admin,
        exposure_revision_id=standards[1].pk,
        name="Painted target",
        source="Lin",
        patches=PATCHES,
    )
    return make_roll(owner, make_batch(owner), standards)


# --- What may be said


@pytest.mark.parametrize(
    ("patches", "words"),
    [
        ([], "2 to 40 patches; there are 0"),
        ([PatchValue("A", 0.2), PatchValue("B", 0.1)], "at least one patch as grey"),
        ([PatchValue("A", 0.2, True), PatchValue("a", 0.1)], "is there twice"),
        ([PatchValue("A", 18.0, True), PatchValue("B", 0.1)], "not at 18"),
        ([PatchValue("A", math.nan, True), PatchValue("B", 0.1)], "between 0.001 and 1.2"),
        ([PatchValue(" ", 0.2, True), PatchValue("B", 0.1)], "Patch 1: give it a label"),
    ],
)
def test_a_target_that_cannot_be_right_is_refused(admin, standards, patches, words):
    with pytest.raises(InvalidInput, match=words):
        enter_patch_set(
            actor=admin, exposure_revision_id=standards[1].pk, name="T", source="L", patches=patches
        )


def test_only_admins_enter_targets_and_read_patches_stay(owner, admin, roll, standards):
    again = {"exposure_revision_id": standards[1].pk, "name": "T", "source": "L", "patches": PATCHES[:4]}
    with pytest.raises(NotAllowed):
        enter_patch_set(actor=owner, **again)
    assert enter_patch_set(actor=admin, **again).patches.count() == 4
    with pytest.raises(NotFound):
        enter_patch_set(actor=admin, **again | {"exposure_revision_id": 10**6})
    record_patch_frame(actor=owner, roll_id=roll.pk, label="2", densities={1: 0.9})
    with pytest.raises(WrongState, match="were read already"):
        enter_patch_set(actor=admin, **again)


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"label": " "}, "label"),
        ({"label": "x" * 21}, "label"),
        ({"offset_stops": 12.0}, "offset_stops"),
        ({"offset_stops": math.nan}, "offset_stops"),
        ({"metered_index": 0.0}, "metered_index"),
        ({"instrument_id": 10**6}, "instrument_id"),
        ({"reason": "x" * 201}, "reason"),
        ({"densities": {1: 7.5}}, "d-1"),
        ({"densities": {9: 0.5}}, "d-9"),
    ],
)
def test_a_frame_that_cannot_be_right_is_refused_and_nothing_is_stored(owner, roll, values, field):
    given = {"label": "2", "densities": {1: 0.9}} | values
    with pytest.raises(InvalidInput) as refused:
        record_patch_frame(actor=owner, roll_id=roll.pk, **given)
    problems = {problem["field"] for problem in refused.value.problems} or {refused.value.field}
    assert problems == {field}
    assert not PatchReading.objects.exists() and not roll.patch_frames.exists()


def test_only_the_rolls_member_reads_and_only_while_it_may_change(owner, labmate, roll):
    with pytest.raises(NotAllowed):
        record_patch_frame(actor=labmate, roll_id=roll.pk, label="2", densities={})
    Roll.objects.filter(pk=roll.pk).update(state="submitted")
    with pytest.raises(WrongState):
        record_patch_frame(actor=owner, roll_id=roll.pk, label="2", densities={})


def test_without_a_target_nothing_can_be_read(owner, admin, standards):
    bare = make_roll(owner, make_batch(owner), standards)
    with pytest.raises(WrongState, match="No patches are entered"):
        record_patch_frame(actor=owner, roll_id=bare.pk, label="2", densities={1: 0.5})


def test_a_correction_ends_the_old_reading_and_says_why(owner, roll):
    how = {"actor": owner, "roll_id": roll.pk, "label": "2"}
    record_patch_frame(**how, densities={1: 0.9, 2: 0.7})
    record_patch_frame(**how, densities={1: 0.91, 2: 0.7}, reason="digits swapped")
    record_patch_frame(**how, densities={2: None}, reason="dust")
    standing = PatchReading.objects.filter(is_current=True)
    assert [(r.patch.number, r.density) for r in standing] == [(1, 0.91)]
    ended = PatchReading.objects.filter(is_current=False).order_by("pk")
    assert [(r.density, r.ended_reason) for r in ended] == [(0.9, "digits swapped"), (0.7, "dust")]


# --- What comes of it


@pytest.fixture
def lab(owner, admin, standards, roll):
    """The reference and a faster test stock of other colour response, both read, both accepted."""
    reference = standing_result(owner, *standards, name="Reference 100")
    test = standing_result(owner, *standards, name="Ortho 200", speed_point=-1.9)
    appoint(admin, reference)
    rolls = {}
    for result, shape, shifts in (
        (reference, {}, TRUTH),
        (test, {"speed_point": -1.9}, {"Blue": 1.0, "Red": -2.5}),
    ):
        batch = result.stock.batches.create(emulsion_number="1", created_by=owner)
        planned = make_roll(owner, batch, standards)
        bracket(owner, planned, shifts=shifts, **shape)
        record_patch_frame(
            actor=owner,
            roll_id=planned.pk,
            label="7",
            offset_stops=1.0,
            filter_name="yellow",
            densities=expose(planned, 1.0, held_back=1.0, **shape),
        )
        analyse(planned, **shape)
        rolls[result.stock.name] = planned
    return rolls


def test_shifts_of_known_truth_are_recovered_within_their_intervals(lab, owner):
    stocks = [Roll.objects.get(pk=r.pk).batch.stock_id for r in lab.values()]
    view = colour_response(owner, stock_ids=tuple(stocks))
    reference, test = view.stocks
    assert reference.is_reference and view.series == "daylight"
    for label, truth in TRUTH.items():
        found = reference.shifts[label]
        assert found.low < truth < found.high
        assert found.value == pytest.approx(truth, abs=0.1)
    for label, truth in (("Blue", 0.6), ("Red", -2.2)):
        found = test.differences[label]
        assert found.low < truth < found.high


def test_a_filter_that_holds_back_a_stop_has_a_factor_of_two(lab, owner):
    """One stop more was given through it, and it holds back one: densities agree, the factor is 2."""
    view = colour_response(owner)
    (found,) = view.stocks[0].filters
    assert found.filter_name == "yellow"
    assert found.only_roll.patch in {"Light grey", "Middle grey", "Dark grey"}
    assert found.factor.value == pytest.approx(2.0, rel=0.03)
    assert found.factor.low < 2.0 < found.factor.high


def test_a_filter_on_several_rolls_has_one_factor_that_says_of_how_many(lab, owner, client_for):
    first = next(roll for roll in lab.values() if roll.batch.stock.references.exists())
    second = make_roll(owner, first.batch, (first.process_revision, first.exposure_revision))
    bracket(owner, second, offsets=(0,))
    filtered = {"filter_name": "yellow", "offset_stops": 1.0, "densities": expose(second, 1.0, held_back=1.2)}
    record_patch_frame(actor=owner, roll_id=second.pk, label="7", **filtered)
    analyse(second)
    (found,) = colour_response(owner).stocks[0].filters
    assert found.only_roll is None and len(found.rolls) == 2
    # Of a roll it holds back a stop, of the other 1.2: between them in stops, and the interval holds both.
    assert found.factor.value == pytest.approx(2**1.1, rel=0.03)
    assert found.factor.low < 2.0 and found.factor.high > 2**1.2
    page = client_for(owner).get(reverse("colour_response")).text
    assert re.search(r"<td>yellow</td>.*?2 rolls</td>", page, re.S)
    told = client_for(owner).get("/api/v1/colour-response/").json()["stocks"][0]["filters"]
    assert [(each["roll_count"], each["patch"]) for each in told] == [(2, "")]


def test_a_roll_whose_factor_is_withheld_does_not_count_among_those_that_tell_it(lab, owner, client_for):
    first = next(roll for roll in lab.values() if roll.batch.stock.references.exists())
    second = make_roll(owner, first.batch, (first.process_revision, first.exposure_revision))
    bracket(owner, second, offsets=(0,))
    in_the_toe = {"filter_name": "yellow", "offset_stops": 0.0, "densities": expose(second, -4.0)}
    record_patch_frame(actor=owner, roll_id=second.pk, label="7", **in_the_toe)
    analyse(second)
    (found,) = colour_response(owner).stocks[0].filters
    assert found.factor.value == pytest.approx(2.0, rel=0.03) and found.only_roll.through == "7"
    told = client_for(owner).get("/api/v1/colour-response/").json()["stocks"][0]["filters"]
    assert [(each["roll_count"], bool(each["patch"])) for each in told] == [(1, True)]


def test_patches_in_the_toe_are_withheld(owner, standards, roll):
    record_patch_frame(actor=owner, roll_id=roll.pk, label="2", densities=expose(roll, -4.0))
    analyse(roll, state="draft")
    from curves.queries.patches import frame_shifts
    from curves.sensitometry.sampled_curve import SampledCurve

    read = roll_patches(owner, roll.pk)
    result = Analysis.objects.get(roll=roll).as_dict()
    from curves.sensitometry import Analysis as Engine

    shifts = frame_shifts(read, SampledCurve.of(Engine.from_dict(result).curve))
    assert shifts["Blue"].reason == "IN_TOE"


def test_the_matched_index_of_a_film_a_stop_faster_is_twice_the_references(lab, owner):
    """Speed points −1.60 and −1.90: the film is 0.30/0.301 stops faster, so EI 100 · 10^0.3."""
    match = bracket_match(roll_patches(owner, lab["Ortho 200"].pk))
    assert match.reference.name == "Reference 100" and match.patch.label == "Dark grey"
    index, speed = match.measures["matched_exposure_index"], match.measures["relative_speed"]
    assert index.low < 100 * 10**0.3 < index.high
    assert speed.value == pytest.approx(0.3 / STOP, abs=0.06)
    nearest = next(frame for frame in match.frames if frame.is_nearest)
    assert nearest.read.frame.offset_stops == -1.0
    assert match.print_factor.value == pytest.approx(1.0, abs=0.02)


def test_what_lacks_for_a_match_is_said(owner, admin, roll, standards):
    assert "no base plus fog" in bracket_match(roll_patches(owner, roll.pk)).missing
    analyse(roll, state="draft")
    roll.refresh_from_db()
    assert "fewer than two frames" in bracket_match(roll_patches(owner, roll.pk)).missing
    bracket(owner, roll)
    assert "no house reference" in bracket_match(roll_patches(owner, roll.pk)).missing
    appoint(admin, standing_result(owner, *standards, name="Reference 100"))
    assert "no accepted roll of the reference" in bracket_match(roll_patches(owner, roll.pk)).missing


# --- The pages


def test_what_the_patch_field_shows_it_reads_again():
    assert read_patches(patches_text(PATCHES)) == (PATCHES, [])
    assert read_patches("A;0,18;grey\n\nB\t0.1")[0] == [PatchValue("A", 0.18, True), PatchValue("B", 0.1)]
    _, faults = read_patches("A\nB; x\nC; 0.1; mauve")
    assert [fault[:6] for fault in faults] == ["Line 1", "Line 2", "Line 3"]


def test_an_admin_enters_the_target_and_a_faulty_one_keeps_what_was_typed(client_for, admin, standards):
    client = client_for(admin)
    address = reverse("patch_set", args=[standards[1].pk])
    typed = {"name": "Target", "source": "Lin", "patches": "Grey; 0.18; grey\nRed; 12"}
    refused = client.post(address, typed)
    assert refused.status_code == 400 and "Red; 12" in refused.text
    client.post(address, typed | {"patches": "Grey; 0.18; grey\nRed; 0.12"})
    assert "Red; 0.12" in client.get(address).text


def test_a_member_types_a_frame_corrects_it_and_is_told_what_is_wrong(client_for, owner, roll):
    client = client_for(owner)
    address = reverse("roll_patches", args=[roll.pk])
    typed = {"label": "3", "offset_stops": "-1", "metered_index": "100", "d-1": "0,91", "d-2": "0.7x"}
    refused = client.post(address, typed)
    assert refused.status_code == 400
    assert "0.7x" in refused.text and "is not a number" in refused.text
    page = client.post(address, typed | {"d-2": "0,70"}, follow=True)
    assert "Frame 3 is saved." in page.text and "0.91" in page.text
    chosen = client.get(address, {"frame": "3"})
    assert "Correct frame 3" in chosen.text and 'value="0.91"' in chosen.text
    refused = client.post(address, typed | {"d-2": "9.5"})
    assert "A density lies between" in refused.text


def test_the_roll_page_leads_to_sheets_and_patches(client_for, owner, roll):
    page = client_for(owner).get(reverse("roll", args=[roll.pk])).text
    for name in ("roll_exposure_sheet", "roll_processing_sheet", "roll_patches"):
        assert reverse(name, args=[roll.pk]) in page


def test_the_page_shows_the_match_in_numbers(client_for, owner, lab):
    page = client_for(owner).get(reverse("roll_patches", args=[lab["Ortho 200"].pk])).text
    assert "nearest" in page and "Matched exposure index" in page
    assert "yellow" in page and "Colour shifts on this roll" in page


def test_colour_response_page_and_file(client_for, owner, lab):
    client = client_for(owner)
    page = client.get(reverse("colour_response"))
    assert page.status_code == 200 and "Against the reference" in page.text and "daylight" in page.text
    rows = list(csv.DictReader(io.StringIO(client.get(reverse("colour_response_data")).text)))
    assert {(row["stock"], row["patch"]) for row in rows} == {
        (stock, patch) for stock in ("Reference 100", "Ortho 200") for patch in TRUTH
    }
    assert rows[0]["colour_temperature [K]"] == "5500"


def test_what_is_said_of_colours_leads_to_their_numbers(client_for, owner, lab):
    """Blue is 0.6 stop lighter than on the reference, red 2.2 stops darker: both far beyond reading error."""
    client = client_for(owner)
    stock_id = Roll.objects.get(pk=lab["Ortho 200"].pk).batch.stock_id
    words = client.get(f"/compare/words/{stock_id}/").text
    assert "Not measured here: grain and sharpness." in words
    assert re.search(r"Blue \([+].+ is rendered lighter, Red \(−2[.].+ darker than a grey", words)
    assert re.search(r"Blue \([+]0[.].+ reads lighter, Red \(−2[.].+ darker than on the reference", words)
    links = re.findall(r'href="(/compare/colour-response/[^"]+)#([^"]+)"', words)
    assert {anchor for _, anchor in links} == {f"own-{stock_id}", f"against-{stock_id}"}
    for address, anchor in links:
        assert f'id="{anchor}"' in client.get(html.unescape(address)).text


def test_the_sheet_says_what_compare_says_of_colours(owner, lab):
    result = StockResult.objects.get(stock__name="Ortho 200")
    content = sheet_content(result, pictures={"crop": None, "frames": []})
    own, against = (text for text in content["words"] if text.startswith("By daylight"))
    assert "than a grey of equal luminance" in own and "than on the reference" in against
    assert [row["patch"] for row in content["colour"]["patches"]] == list(TRUTH)


def test_a_stock_that_there_is_not_is_said_to_be_none(client_for, owner, lab):
    for name in ("colour_response", "print_plan"):
        page = client_for(owner).get(reverse(name), {"stock": [987654, 5555555]}).text
        assert "No stock is numbered 987654, 5555555." in page, name


def test_colour_response_without_readings_says_so(client_for, owner, standards):
    standing_result(owner, *standards)
    page = client_for(owner).get(reverse("colour_response"))
    assert "No patches read yet" in page.text
    assert client_for(owner).get(reverse("colour_response"), {"standards": "8-9"}).status_code == 404


def test_the_number_of_queries_does_not_grow_with_the_frames(
    client_for, owner, lab, django_assert_max_num_queries
):
    client = client_for(owner)
    with django_assert_max_num_queries(14):
        client.get(reverse("colour_response"))
    with django_assert_max_num_queries(17):
        client.get(reverse("roll_patches", args=[lab["Ortho 200"].pk]))


def test_series_under_two_lights_stand_apart_each_with_its_filter_factors(
    client_for, owner, admin, standards, lab
):
    """The yellow filter holds back a stop by daylight, half a stop by lamplight with its little blue."""
    lamp = make_exposure(admin, "Lamplight", colour_temperature_k=3200)
    enter_patch_set(actor=admin, exposure_revision_id=lamp.pk, name="Target", source="Lin", patches=PATCHES)
    result = standing_result(owner, standards[0], lamp, name="Lamp 100")
    batch = result.stock.batches.create(emulsion_number="1", created_by=owner)
    roll = make_roll(owner, batch, (standards[0], lamp))
    bracket(owner, roll, offsets=(0,))
    record_patch_frame(
        actor=owner,
        roll_id=roll.pk,
        label="7",
        filter_name="yellow",
        densities=expose(roll, held_back=0.5),
    )
    analyse(roll)
    key = f"{standards[0].pk}-{lamp.pk}"
    view = colour_response(owner, pair_key=key)
    assert (view.series, [each.stock.name for each in view.stocks]) == ("tungsten", ["Lamp 100"])
    assert view.stocks[0].filters[0].factor.value == pytest.approx(2**0.5, rel=0.03)
    assert [(each.name, each.stock_count) for each in view.lights] == [("daylight", 2), ("tungsten", 1)]
    assert colour_response(owner).stocks[0].filters[0].factor.value == pytest.approx(2.0, rel=0.03)
    page = client_for(owner).get(reverse("colour_response")).text
    assert f"?standards={key}" in page and "Tungsten" in page and "Lamp 100" not in page
