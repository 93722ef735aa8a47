"""Near relatives on pages: what is claimed, what is not, and by which margins."""

from types import SimpleNamespace

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from curves.models import EquivalenceMargins, HouseReference, StockResult
from curves.pages.compare import relatives_table
from curves.pages.compare.relatives_table import SUBJECTS
from curves.queries.relatives import map_of_stocks, relatives_of
from curves.sensitometry.comparing.near_relatives import OTHER, SAME
from curves.sensitometry.measures import Measure
from labsite.accounts.services import update_lab
from labsite.common.errors import NotFound
from tests.factories.many_stocks import KINDS, make_many_stocks
from tests.factories.rolls import make_batch, make_standards


@pytest.fixture
def stocks(admin):
    """Ten stocks of two rolls: the ninth and tenth are the first two again, moved in speed."""
    return make_many_stocks(admin, make_standards(admin), stocks=KINDS + 2, rolls=2)


def test_a_stock_and_its_moved_copy_are_nearest_of_all(stocks, owner):
    view = relatives_of(owner, stocks[1].pk)
    assert view.relatives[0].result.stock == stocks[KINDS + 1]
    kinship = view.relatives[0].kinship
    # The rolls are copies moved in speed alone: contrast and shape are alike to the last digit.
    for name in ("contrast_ratio", "toe_difference", "middle_difference"):
        assert kinship.relation.results[name].difference.value == pytest.approx(0.0, abs=2e-3), name
    assert len(view.relatives) == len(stocks) - 1 == view.others_count
    assert view.anchor == "Emulsion 0000"


def test_the_page_names_margins_and_never_claims_more_than_was_shown(stocks, owner, client_for):
    page = client_for(owner).get(f"/stocks/{stocks[1].pk}/relatives/")
    assert "± 0.30 stops" in page.text and "± 7 %" in page.text and "± 0.020 D" in page.text
    said = [row["sentence"] for row in page.context["rows"] if row["kind"] == SAME]
    assert all("a smaller difference" not in sentence for sentence in said), "copies"
    assert page.text.count("could be the same emulsion.") == len(said)


def test_measures_that_differ_are_listed_as_one_says_it():
    differing = ("speed_shift_stops", "contrast_ratio", "toe_difference")
    kinship = SimpleNamespace(kind=OTHER, differing=differing, relation=SimpleNamespace(results={}))
    assert relatives_table.kin_sentence(kinship) == "Different in speed, contrast and shadows."


def judged(difference):
    return SimpleNamespace(difference=difference, verdict="", is_without_verdict=False)


def test_no_zero_of_the_tables_has_a_sign():
    tiny = {name: 0.0004 if name.endswith("difference") else 0.004 for name in SUBJECTS}
    tiny["contrast_ratio"] = 0.0004  # a logarithm; shown in per cent, to 0.1
    for name, value in tiny.items():
        for sign in (1, -1):
            difference = Measure(name, sign * value, -2 * value, 2 * value)
            shown = relatives_table._cell(name, judged(difference))
            assert not {"+", "−", "-"} & set(shown.text), (name, shown.text)
    shown = relatives_table._cell(
        "speed_shift_stops", judged(Measure("speed_shift_stops", -0.1, -0.2, 0.004))
    )
    assert shown.interval == "(−0.20 to 0.00)"


def test_a_stock_of_one_roll_is_told_apart_from_one_that_was_tested_enough(stocks, owner, client_for):
    result = StockResult.objects.get(stock=stocks[2])
    result.pooled.roll_count = 1
    result.pooled.save(update_fields=["roll_count"])
    page = client_for(owner).get(f"/stocks/{stocks[2].pk}/relatives/")
    assert "One roll only" in page.text
    assert {row["kind"] for row in page.context["rows"]} == {"not shown"}
    assert {row["kind_words"] for row in page.context["rows"]} == {"no verdict"}
    assert "No verdict from a single roll: two rolls of each stock are needed." in page.text
    assert "only a second roll tells: so no verdict can be given" in page.text
    cells = [cell for row in page.context["rows"] for cell in row["cells"]]
    assert all(cell.text and " to " in cell.interval for cell in cells), "numbers with their intervals"
    assert not any(cell.verdict for cell in cells) and "equivalent</span>" not in page.text
    assert "1 and 2 rolls; two of each are needed" in page.text
    assert "0 and" not in page.text, "a single roll is a roll"
    named = [row["result"].stock.name for row in page.context["rows"]]
    assert named != sorted(named), "nearest first, and so does the page say"
    nearest = [row["result"].stock_id for row in page.context["rows"]][:5]
    asked = ".".join(map(str, [stocks[2].pk, *nearest]))
    assert f"/compare/?standards={page.context['view'].pair.key}&amp;stocks={asked}" in page.text
    # Seen from a stock of two rolls, that one has numbers without a verdict, and the others their verdicts.
    beside = client_for(owner).get(f"/stocks/{stocks[1].pk}/relatives/").context["rows"]
    (row,) = (row for row in beside if row["result"].pk == result.pk)
    assert row["kind_words"] == "no verdict" and all(cell.text and not cell.verdict for cell in row["cells"])
    assert any(cell.verdict for other in beside if other is not row for cell in other["cells"])
    view = map_of_stocks(owner)
    assert not any(result.pk in (pair.first.pk, pair.second.pk) for pair in view.kin)


def test_the_map_is_a_figure_and_the_same_as_a_table(stocks, owner, client_for):
    page = client_for(owner).get("/compare/relatives/")
    figure, places = page.context["figure"], page.context["places"]
    assert [trace["name"] for trace in figure["data"]] == [place["result"].stock.name for place in places]
    for trace, place in zip(figure["data"], places, strict=True):
        assert trace["x"][0] == pytest.approx(place["across"], abs=1e-4)
    assert {trace["meta"]["key"] for trace in figure["data"]} >= {"reference", f"stock-{stocks[1].pk}"}
    assert "near relatives lie near each other" in figure["meta"]["description"]


def test_without_a_reference_some_stock_is_the_anchor_and_nothing_else_changes(stocks, owner, client_for):
    HouseReference.objects.all().delete()
    assert client_for(owner).get("/compare/relatives/").status_code == 200
    assert relatives_of(owner, stocks[1].pk).relatives[0].result.stock == stocks[KINDS + 1]


def test_an_admin_sets_margins_and_pages_follow(stocks, owner, admin, client_for):
    typed = {"speed_stops": "2", "contrast_share": "0.3", "shape_density": "0.3", "reason": "A trial"}
    answer = client_for(admin).post("/compare/margins/", typed)
    assert answer.status_code == 302
    assert EquivalenceMargins.objects.get().set_by == admin
    assert "A trial" in client_for(admin).get("/compare/margins/").text
    page = client_for(owner).get(f"/stocks/{stocks[1].pk}/relatives/")
    assert "± 2.00 stops" in page.text and "Ada Minster" in page.text
    again = client_for(admin).post("/compare/margins/", typed)
    assert again.status_code == 400 and "in force already" in again.text
    assert client_for(owner).post("/compare/margins/", typed).status_code == 403


def test_what_is_not_there_is_not_found(stocks, owner, client_for):
    with pytest.raises(NotFound):
        relatives_of(owner, 987654)
    assert (
        client_for(owner).get(f"/stocks/{stocks[1].pk}/relatives/?standards=987654-987654").status_code == 404
    )
    assert client_for(owner).get("/compare/relatives/?standards=987654-987654").status_code == 404


def test_a_stock_without_a_result_says_what_is_missing(owner, client_for):
    batch = make_batch(owner)
    assert "No result yet" in client_for(owner).get(f"/stocks/{batch.stock_id}/relatives/").text
    assert "Nothing to compare yet" in client_for(owner).get("/compare/relatives/").text


ADDRESSES = (
    "/compare/?stocks={stocks}&bands=1",
    "/compare/?stocks={stocks}&view=panels&align=contrast",
    "/compare/?stocks={stocks}.987654&mixed=1&sort=-speed_shift_stops&speed_from=1&format=120",
    "/compare/data.csv?stocks={stocks}",
    "/compare/relatives/",
    "/stocks/{first}/relatives/",
)


def queries_of(client, films) -> dict[str, int]:
    found = {}
    names = {"stocks": ".".join(str(film.pk) for film in films[1:]), "first": films[1].pk}
    for address in ADDRESSES:
        with CaptureQueriesContext(connection) as queries:
            assert client.get(address.format(**names)).status_code == 200, address
        found[address] = len(queries)
    return found


@pytest.mark.parametrize("is_visitor", [False, True])
def test_the_number_of_queries_does_not_hang_on_how_much_is_compared(admin, owner, client_for, is_visitor):
    update_lab(actor=admin, name="Lab", contact="", is_open_to_visitors=True)
    client = Client() if is_visitor else client_for(owner)
    films = make_many_stocks(admin, make_standards(admin), stocks=24, rolls=2)
    few, many = queries_of(client, films[:3]), queries_of(client, films)
    assert few == many
    compared = {address: count for address, count in many.items() if address.startswith("/compare/?")}
    # Session, person, standards, rows, curves, pictures, spread, rolls, prices, jobs, the lab; one more where
    # standards are mixed.
    assert max(compared.values()) <= 12, compared
