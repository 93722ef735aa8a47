"""Print tones and the print plan: what differs is the film; what can't be printed says why."""

import csv
import io
import math

import numpy as np
import pytest
from django.urls import reverse

from curves.models import HouseReference
from curves.queries.print_plan import print_plan
from curves.queries.print_settings import PrintSettings
from curves.queries.print_tones import print_tones
from labsite.common.errors import InvalidInput, NotFound
from tests.factories.papers import draft_paper, logistic_points, make_paper
from tests.factories.results import appoint, standing_result
from tests.factories.rolls import make_batch, make_standards

STOP = math.log10(2)


@pytest.fixture
def lab(owner, admin):
    """A reference, a stock of the same curve, a faster and a harder one; one paper."""
    standards = make_standards(admin)
    shapes = {
        "Reference 100": {},
        "Twin 100": {"base_change": 0.06},
        "Swift 200": {"speed_point": -1.9},
        "Hard 100": {"gradient": 0.9},
    }
    stocks = {}
    for seed, (name, shape) in enumerate(shapes.items(), start=1):
        result = standing_result(owner, *standards, name=name, seed=seed, **shape)
        stocks[name] = result.stock
        if name == "Reference 100":
            appoint(admin, result)
    return {"stocks": stocks, "paper": make_paper(admin), "standards": standards}


def _printed(user, lab, *names, **settings):
    ids = tuple(lab["stocks"][name].pk for name in names)
    view = print_tones(user, paper_id=lab["paper"].pk, settings=PrintSettings(**settings), stock_ids=ids)
    return view, {each.stock.name: each for each in view.printed}


def test_the_held_tone_prints_at_its_density_on_the_reference(lab, owner):
    _, printed = _printed(owner, lab, held_stops=3.0, held_density=0.8)
    tone = next(t for t in printed["Reference 100"].at_stops if t.stops == -3)
    assert tone.density.value == pytest.approx(0.8, abs=1e-3)
    assert tone.density.low < 0.8 < tone.density.high


def test_a_film_of_the_same_curve_prints_the_same(lab, owner):
    """Its base is denser by 0.06, which the print time makes up for: 10 s · 10^0.06.

    The rest is reading noise: 0.003 D a reading, times the paper's gradient of up to 2.8.
    """
    _, printed = _printed(owner, lab, "Twin 100")
    one, other = (printed[name].tones.print_density for name in ("Reference 100", "Twin 100"))
    assert np.nanmax(np.abs(one - other)) < 0.06
    assert printed["Twin 100"].time.value == pytest.approx(10 * 10**0.06, rel=0.02)


def test_a_faster_film_exposed_alike_prints_lighter_and_by_its_own_speed_the_same(lab, owner):
    _, alike = _printed(owner, lab, "Swift 200", range_stops=5.0)
    assert (
        np.nanmin(alike["Reference 100"].tones.print_density - alike["Swift 200"].tones.print_density) > -0.02
    )
    _, own = _printed(owner, lab, "Swift 200", range_stops=5.0, is_by_own_speed=True)
    difference = own["Reference 100"].tones.print_density - own["Swift 200"].tones.print_density
    assert np.nanmax(np.abs(difference)) < 0.08


def test_a_harder_film_parts_tones_more_and_loses_highlights_sooner(lab, owner):
    _, printed = _printed(owner, lab, "Hard 100")
    soft, hard = printed["Reference 100"], printed["Hard 100"]
    assert np.nanmax(hard.tones.separation) > np.nanmax(soft.tones.separation)
    merge = hard.merging["highlights_merge"]
    assert merge.value is not None and -7 < merge.value < 0 and merge.unit == "stop"
    assert soft.merging["highlights_merge"].reason == "NOT_REACHED" or (
        soft.merging["highlights_merge"].value > merge.value
    )


def test_tones_outside_the_films_curve_are_withheld_with_their_reason(lab, owner):
    view, printed = _printed(owner, lab, range_stops=10.0, flare=0.0, held_stops=5.0)
    withheld = {t.density.reason for t in printed["Reference 100"].at_stops if t.density.value is None}
    assert withheld == {"NOT_REACHED"}
    assert printed["Reference 100"].merging["highlights_merge"].reason == "NOT_REACHED"
    assert view.fault == ""


def test_a_print_density_that_the_paper_lacks_is_a_fault_not_a_guess(lab, owner):
    view, printed = _printed(owner, lab, held_density=2.9)
    assert view.fault == "OUT_OF_PAPER_RANGE"
    assert not printed


def test_what_cannot_be_asked_for_is_refused(lab, owner):
    with pytest.raises(InvalidInput, match="at most 12"):
        print_tones(owner, paper_id=lab["paper"].pk, settings=PrintSettings(), stock_ids=tuple(range(1, 20)))
    with pytest.raises(NotFound, match="no such curve"):
        print_tones(owner, paper_id=10**6, settings=PrintSettings())
    with pytest.raises(NotFound, match="under these standards"):
        print_tones(owner, paper_id=None, settings=PrintSettings(), pair_key="7-9")
    with pytest.raises(InvalidInput, match="Flare"):
        print_tones(owner, paper_id=lab["paper"].pk, settings=PrintSettings(flare=-0.1))


def test_the_plan_makes_up_for_base_plus_fog_and_nothing_else(lab, owner):
    """t2 = t1 · 10^(Q · ΔD): the formula of the handbooks, with the measured bases."""
    plan = print_plan(owner, settings=PrintSettings(callier_factor=1.3, time_s=12.0, per_stop=12))
    assert len(plan.prints) == 4
    assert plan.prints[0].is_reference and plan.prints[0].time.value == 12.0
    for row in plan.prints[1:]:
        expected = 12.0 * 10 ** (1.3 * row.base_change.value)
        assert row.time.value == pytest.approx(expected)
        assert row.time.low < row.time.value < row.time.high
        assert row.stops == pytest.approx(math.log2(expected / 12.0))
        assert abs(row.stops - row.steps / 12) <= 1 / 24
        assert row.step_time_s == pytest.approx(12.0 * 2 ** (row.steps / 12))


def test_the_page_shows_figures_tables_and_a_link_that_repeats_it(client_for, lab, owner):
    client = client_for(owner)
    stock = lab["stocks"]["Swift 200"].pk
    answer = client.get(reverse("print_tones"), {"stock": [stock], "held": "3", "light": "condenser"})
    assert answer.status_code == 200
    for words in ("Swift 200", "house reference", "Lantern Matt, curve 1", "Highlights merge"):
        assert words in answer.text
    permalink = answer.context["permalink"]
    assert f"stock={stock}" in permalink and "held=3" in permalink and "light=condenser" in permalink
    again = client.get(permalink)
    assert again.context["rows"] == answer.context["rows"]


def test_a_link_keeps_the_curve_it_was_made_with(client_for, lab, owner, admin):
    from curves.services.papers import PAPERS
    from curves.services.standards import edit_draft, put_in_force, revise_standard

    client = client_for(owner)
    before = client.get(reverse("print_tones"))
    second = revise_standard(
        kind=PAPERS, actor=admin, standard_id=lab["paper"].paper_id, change_note="new box"
    )
    edit_draft(
        kind=PAPERS, actor=admin, revision_id=second.pk, source="Ola", points=logistic_points(rate=4.0)
    )
    put_in_force(kind=PAPERS, actor=admin, revision_id=second.pk)
    assert client.get(before.context["permalink"]).context["rows"] == before.context["rows"]
    assert client.get(reverse("print_tones")).context["rows"] != before.context["rows"]


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ({"range": "40"}, "less than or equal to 15"),
        ({"flare": "x"}, "Enter a number"),
        ({"held": "9"}, "The subject has only 7 stops"),
        ({"q": ""}, "required"),
        ({"light": "laser"}, "Select a valid choice"),
        ({"paper": "99999"}, "Select a valid choice"),
        ({"stock": "-3"}, "Select a valid choice"),
        ({"stock": "9" * 30}, "Select a valid choice"),
        ({"density": "2.9"}, "The paper cannot give that print density"),
    ],
)
def test_bad_settings_are_told_beside_their_field(client_for, lab, owner, query, words):
    answer = client_for(owner).get(reverse("print_tones"), query)
    assert answer.status_code == (200 if "density" in query else 400)
    assert words in answer.text


def test_a_stock_without_a_result_is_named_as_left_out(client_for, lab, owner):
    other = make_batch(owner, "Untested 50").stock
    answer = client_for(owner).get(reverse("print_tones"), {"stock": other.pk})
    assert "Untested 50 is left out" in answer.text


def test_without_a_paper_or_a_reference_the_page_says_what_is_missing(client_for, owner, admin):
    client = client_for(owner)
    assert "Nothing to print yet" in client.get(reverse("print_tones")).text
    standards = make_standards(admin)
    standing_result(owner, *standards)
    draft_paper(admin)
    assert "No house reference" in client.get(reverse("print_tones")).text
    HouseReference.objects.create(
        stock=make_batch(owner, "Other").stock,
        process_revision=standards[0],
        exposure_revision=standards[1],
        appointed_by=admin,
    )
    assert "No house reference" in client.get(reverse("print_plan")).text


def test_no_paper_in_force_is_said(client_for, lab, owner, admin):
    from curves.models import PaperRevision

    PaperRevision.objects.update(state="draft")
    assert "No paper yet" in client_for(owner).get(reverse("print_tones")).text


def _rows(answer):
    return list(csv.DictReader(io.StringIO(answer.text)))


def test_the_files_hold_what_the_pages_show(client_for, lab, owner):
    client = client_for(owner)
    stock = lab["stocks"]["Hard 100"].pk
    rows = _rows(client.get(reverse("print_tones_data"), {"stock": stock}))
    assert len(rows) == 2 * 8
    assert {row["stock"] for row in rows} == {"Reference 100", "Hard 100"}
    shown = client.get(reverse("print_tones"), {"stock": stock}).context["rows"]
    assert float(rows[0]["print_density [D]"]) == pytest.approx(shown[0][1][0].value)
    plan = _rows(client.get(reverse("print_plan_data"), {"per_stop": "3"}))
    assert len(plan) == 4 and plan[0]["is_reference"] == "1"
    assert "nearest step [1/3 stop]" in plan[0]
    assert client.get(reverse("print_tones_data"), {"range": "x"}).status_code == 400
    assert client.get(reverse("print_plan_data"), {"time": "0"}).status_code == 400


def test_the_number_of_queries_does_not_grow_with_the_stocks(
    client_for, lab, owner, django_assert_max_num_queries
):
    client = client_for(owner)
    with django_assert_max_num_queries(10):
        client.get(reverse("print_tones"), {"stock": [stock.pk for stock in lab["stocks"].values()]})
    with django_assert_max_num_queries(10):
        client.get(reverse("print_plan"))


def test_scripts_get_the_numbers_of_the_pages(client_for, lab, owner):
    client = client_for(owner)
    stock = lab["stocks"]["Hard 100"].pk
    tones = client.get(reverse("api_print_tones"), {"paper_curve_id": lab["paper"].pk, "stock": stock}).json()
    shown = client.get(reverse("print_tones"), {"stock": stock}).context["rows"]
    assert [tone["density"]["value"] for tone in tones["stocks"][1]["tones"]] == [
        densities[1].value for _, densities in shown
    ]
    plan = client.get(reverse("api_print_plan"), {"per_stop": 3, "time_s": 12}).json()
    assert plan["prints"][0]["print_time"]["value"] == 12 and len(plan["prints"]) == 4
    colours = client.get(reverse("api_colour_response")).json()
    assert colours["light"] == "daylight" and colours["stocks"] == []
    assert client.get(reverse("api_print_tones"), {"paper_curve_id": 1, "flare": 2}).status_code == 400
