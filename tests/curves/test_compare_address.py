"""The address of a comparison: one canonical form that holds all, and what is said of what it cannot hold."""

import pytest
from django.http import QueryDict

from curves.pages.compare.selection import Selection
from tests.factories.compared_lab import make_compared_lab


def build_lab(owner, admin):
    """A reference and two stocks."""
    return make_compared_lab(owner, admin)


def test_ticking_more_stocks_keeps_the_order_and_so_the_colours(lab, owner, client_for):
    birch, cedar = lab["Birch 200"].pk, lab["Cedar 100"].pk
    answer = client_for(owner).get("/compare/", {"order": str(cedar), "stock": [birch, cedar]})
    assert answer.status_code == 302
    assert answer.url == f"/compare/?stocks={cedar}.{birch}"


@pytest.mark.parametrize(
    ("address", "canonical"),
    [
        ("", ""),
        ("view=difference&align=speed_point&density=net&bands=1&stock=3&stock=3",
         "stocks=3&view=difference&align=speed_point&density=net&bands=1"),
        ("view=nonsense&align=%00&stock=x&stock=-1&stock=99999999999999999999", ""),
        ("order=5.3&stock=3&stock=4&stock=5", "stocks=5.3.4"),
        ("stocks=2.3&hide=3.7&pin=reference.2.x&sheet=2", "stocks=2&pin=reference.2&hide=3.7&sheet=2"),
        ("sort=-gamma&sort=nothing&speed_from=50,5&speed_to=oo&mixed=1", "mixed=1&speed_from=50.5"),
        ("sort=-gamma&q=%20a%20%20b%00&maker=M", "sort=-gamma&q=a+b&maker=M"),
        ("column=gamma&column=iso_speed&column=luck", "columns=iso_speed.gamma"),
        ("columns=gamma.frame_cost", "columns=frame_cost.gamma"),
        ("columns=iso_speed.gamma&view=panels", "view=panels&columns=iso_speed.gamma"),
        ("top=2,5&left=−2.50&bottom=&right=x", "left=-2.5&top=2.5"),
        ("left=1&right=-1&bottom=0&top=1e9", "bottom=0"),
        # Limits come with what they were set for: other axes have none, panels never.
        ("left=-2&drawn=curves.exposure.gross", "left=-2"),
        ("left=-2&drawn=curves.exposure.gross&align=contrast", "align=contrast"),
        ("left=-2&view=panels", "view=panels"),
    ],
)  # fmt: skip
def test_an_address_has_one_canonical_form(address, canonical):
    selection = Selection.from_query(QueryDict(address))
    assert selection.query() == canonical
    assert Selection.from_query(QueryDict(canonical)) == selection


def test_limits_of_the_axes_stand_in_the_address_and_in_their_fields(lab, owner, client_for):
    answer = client_for(owner).get("/compare/?left=-2.5&top=2")
    assert answer.context["permalink"].endswith("/compare/?left=-2.5&top=2")
    assert 'name="left" value="-2.5" inputmode' in answer.text and 'plot-limits" open' in answer.text
    assert "xaxis" in answer.context["figure"]["layout"], "the whole range stays the figure's own"
    assert all("left=-2.5" in row.hide_query for row in answer.context["rows"])
    assert "Limits that are not used" not in answer.text
    zoomed = client_for(owner).get("/compare/?left=-1.508000031&right=-1.507999969")
    assert "left=-1.508000031&right=-1.507999969" in zoomed.context["permalink"], "as zoomed"
    assert 'plot-limits">' in client_for(owner).get("/compare/").text, "folded where none is set"


@pytest.mark.parametrize(
    ("address", "said"),
    [
        ("left=far", "Left: “far” is not a number from −99999 to 99999."),
        ("top=1e9", "Top: “1e9” is not a number from −99999 to 99999."),
        ("left=1&right=-2", "Right has to be more than left, not 1 to −2."),
        ("left=50&top=2", "Left 50: nothing is drawn there, only from "),
        ("left=-99999", "Left −99999: what is drawn, from "),
        ("bottom=-900", "Bottom −900: what is drawn, from "),
        ("bottom=-9&top=-7", "Bottom −9 and top −7: nothing is drawn there, only from "),
    ],
)
def test_limits_that_cannot_be_used_are_said_and_left_out(lab, owner, client_for, address, said):
    answer = client_for(owner).get(f"/compare/?{address}")
    assert answer.status_code == 200 and said in answer.text
    assert not {"left", "right", "bottom"} & {*QueryDict(answer.context["query"])}
    assert ("top" in answer.context["query"]) is (address == "left=50&top=2"), "the other axis keeps its own"


def test_what_is_pinned_stands_in_the_address_and_is_given_to_the_script(lab, owner, client_for):
    pk = lab["Birch 200"].pk
    answer = client_for(owner).get(f"/compare/?stocks={pk}&pin=reference.{pk}")
    assert f'data-pinned="reference.{pk}"' in answer.text
    assert f"pin=reference.{pk}" in answer.context["permalink"]


def test_unknown_standards_are_named_and_the_comparison_stands_under_others(lab, owner, client_for):
    client, pk = client_for(owner), lab["Birch 200"].pk
    answer = client.get("/compare/", {"standards": "999-<b>", "stocks": pk, "view": "gradient"})
    assert answer.status_code == 404
    assert "The address asks for the standards “999-&lt;b&gt;”." in answer.text
    (pair,) = client.get("/compare/").context["view"].pairs
    query = f"standards={pair.key}&amp;stocks={pk}&amp;view=gradient"
    assert f'<a href="/compare/?{query}">{pair.label}</a>' in answer.text
    for address in ("/compare/data.csv", "/compare/trade-offs/", "/compare/relatives/"):
        refused = client.get(address, {"standards": "999-999"})
        assert refused.status_code == 404 and "the standards “999-999”" in refused.text, address
        assert '<a href="/compare/">to Compare</a>' in refused.text, address


def test_unknown_stocks_are_named_and_the_others_compared(lab, owner, client_for):
    client, pk = client_for(owner), lab["Birch 200"].pk
    answer = client.get(f"/compare/?stocks=987654.{pk}.5555555&view=gradient")
    assert answer.status_code == 200 and names_in(answer)[:2] == ["Alder 100", "Birch 200"]
    said = " ".join(answer.text.split())
    assert "asks for stocks numbered 987654, 5555555: there is no such stock" in said
    assert answer.context["known_query"] == f"stocks={pk}&view=gradient"
    assert f'href="?stocks={pk}&amp;view=gradient">Go on without' in said
    assert "asks for a stock numbered 987654:" in client.get("/compare/?stocks=987654").text
    for fine in (f"stocks={pk}", f"hide={pk}", "", f"stocks={pk}&q=cedar"):
        assert "Left out" not in client.get(f"/compare/?{fine}").text, fine


def names_in(answer):
    return [row.stock.stock.name for row in answer.context["rows"]]


def test_the_table_is_sorted_filtered_hidden_and_its_columns_chosen_by_the_address(lab, owner, client_for):
    client = client_for(owner)
    birch, cedar = lab["Birch 200"].pk, lab["Cedar 100"].pk
    assert names_in(client.get("/compare/?sort=-name")) == ["Alder 100", "Cedar 100", "Birch 200"]
    # Birch was made a stop faster than the others, so it comes first by speed, downwards.
    for sort in ("-speed_shift_stops", "-exposure_index"):
        assert names_in(client.get(f"/compare/?sort={sort}"))[:2] == ["Alder 100", "Birch 200"]
    assert names_in(client.get("/compare/?sort=speed_shift_stops"))[1] == "Cedar 100"
    by_difference = client.get("/compare/?sort=contrast_ratio").context["rows"][1:]
    ratios = [row.stock.comparison.measures["contrast_ratio"].value for row in by_difference]
    assert ratios == sorted(ratios)
    assert names_in(client.get("/compare/?q=birch")) == ["Alder 100", "Birch 200"]
    # The speed points were made at -1.6 and -1.9: EI 0.8/H of 32 and 64.
    assert names_in(client.get("/compare/?speed_from=45")) == ["Alder 100", "Birch 200"]
    assert names_in(client.get("/compare/?contrast_from=5")) == ["Alder 100"]
    assert names_in(client.get("/compare/?production=no")) == ["Alder 100"]
    assert names_in(client.get("/compare/?maker=Fenwick+Works&format=sheet")) == ["Alder 100"]
    hidden = client.get(f"/compare/?hide={birch}")
    assert names_in(hidden) == ["Alder 100", "Cedar 100"] and "Hidden: Birch 200" in hidden.text
    chosen = client.get(f"/compare/?stocks={cedar}&q=birch")
    assert names_in(chosen) == ["Alder 100", "Cedar 100", "Birch 200"], "what is chosen stays on top"
    two = client.get("/compare/?columns=gamma.toe_difference").context["columns"]
    assert [column.name for column in two] == ["gamma", "toe_difference"]


def test_an_order_that_no_heading_shows_is_said_beside_the_table(lab, owner, client_for):
    client = client_for(owner)
    answer = client.get("/compare/?sort=-gamma&columns=iso_speed.d_max")
    said = " ".join(answer.text[answer.text.index("data-unseen-order") :].split())
    assert "<strong>Gamma</strong>, downwards, which is not a column now." in said
    assert 'aria-sort="' not in answer.text
    order = answer.context["unseen_order"]
    assert order["name_query"] == "columns=iso_speed.d_max"
    shown = client.get(f"/compare/?{order['show_query']}")
    assert [column.name for column in shown.context["columns"]] == ["iso_speed", "gamma", "d_max"]
    assert 'aria-sort="descending"' in shown.text and "data-unseen-order" not in shown.text
    by_maker = client.get("/compare/?sort=maker")
    assert "<strong>Maker</strong>, upwards" in by_maker.text and "Show that column" not in by_maker.text
    for order in ("name", "-box", "exposure_index"):
        assert "data-unseen-order" not in client.get(f"/compare/?sort={order}").text, order


def test_what_a_frame_costs_is_a_column_when_it_is_chosen(lab, owner, client_for):
    client = client_for(owner)
    assert "no price entered" not in client.get("/compare/").text
    answer = client.get("/compare/?sort=frame_cost")
    assert "<strong>Cost per frame</strong>, upwards" in answer.text
    shown = client.get(f"/compare/?{answer.context['unseen_order']['show_query']}")
    assert shown.text.count("no price entered") == 3 and "data-unseen-order" not in shown.text
    assert [heading["title"] for heading in shown.context["plain_headings"]][-1] == "Cost per frame"
