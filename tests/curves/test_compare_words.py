"""What Compare says in words: in panels, beside the figure, and with the numbers that a sentence rests on."""

from types import SimpleNamespace

from django.utils import timezone

from curves.models import HouseReference
from curves.pages.compare.panels import summary_line
from curves.pages.compare.tables import Said
from curves.sensitometry import Measure
from tests.factories.many_stocks import make_many_stocks
from tests.factories.rolls import make_standards


def test_a_panel_lists_what_is_not_told_apart_as_one_says_it():
    names = ("speed_shift_stops", "contrast_ratio", "shape_difference")
    measures = {name: Measure(name, 0.5, 0.1, 0.9) for name in names}

    def said(*verdicts):
        compared = SimpleNamespace(measures=measures, verdicts=dict(zip(names, verdicts, strict=True)))
        return summary_line(SimpleNamespace(comparison=compared, other_standards=""))

    alike = "not distinguishable"
    assert said(alike, alike, alike) == "speed, contrast and shape not told apart"
    assert said("real", alike, alike) == "speed +0.50 stops (real); contrast and shape not told apart"
    assert said("real", alike, "unknown") == (
        "speed +0.50 stops (real); shape 0.500 D (open); contrast not told apart"
    )


def test_words_are_told_of_six_and_where_those_on_the_others_are(admin, owner, client_for):
    stocks = make_many_stocks(admin, make_standards(admin), stocks=9, rolls=1)
    address = "/compare/?stocks=" + ".".join(str(stock.pk) for stock in stocks[1:])
    client = client_for(owner)
    page = client.get(address)
    assert page.text.count("<article data-curve=") == 6
    assert "What is said of the other 2 stands in" in page.text
    HouseReference.objects.update(ended_at=timezone.now())
    page = client.get(address)
    assert "<article data-curve=" not in page.text and "No house reference" in page.text
    for part in ("div", "section"):
        assert page.text.count(f"<{part}") == page.text.count(f"</{part}>"), "no part is closed twice"


def test_the_numbers_of_a_sentence_stand_in_its_brackets():
    links = (("B", "#b"),)
    for text, opening in (("Fast (1 to 2).", "Fast (1 to 2; "), ("It is fast.", "It is fast (")):
        said = Said(text, links)
        assert (said.opening, said.closing) == (opening, ").")
    assert (Said("Plain.", ()).opening, Said("Plain.", ()).closing) == ("Plain.", "")
