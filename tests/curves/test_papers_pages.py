"""Papers on their pages: points typed, pasted or from a file; range and speed with their intervals."""

import math
import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from curves.models import Paper, PaperRevision
from curves.pages.printing.paper_points import points_text, read_point_file, read_points
from curves.queries.papers import paper_grade, paper_measures
from tests.factories.papers import BLACK, WHITE, draft_paper, logistic_points, make_paper

TYPED = {
    "name": "Lantern Matt",
    "about": "The box in the dry cupboard.",
    "grade": "grade 2",
    "developer": "Hearth P",
    "measured_on": "2026-04-09",
    "source": "Lin, reflection densitometer",
    "density_sd": "0.01",
    "base_plus_fog": "0,06",
    "points": points_text(logistic_points()),
}


@pytest.mark.parametrize(
    "text",
    [
        "0 0.06\n0.15 0.08",
        "0\t0,06\n0,15\t0,08",
        "log exposure;density\n0;0,06\n0,15;0,08\n",
        "0.0,0.06\n0.15,0.08",
        "0, 0.06\n\n0.15, 0.08\n",
    ],
)
def test_points_are_read_as_people_write_them(text):
    assert read_points(text) == ([[0.0, 0.06], [0.15, 0.08]], [])


def test_what_the_field_shows_it_reads_again():
    points = [[-1.05, 0.06], [-0.9, 0.071], [0.3, 1.9]]
    assert read_points(points_text(points)) == (points, [])


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("0 0.06\n0.15 x", "Line 2: “x” is not a number"),
        ("0 0.06 0.07", "Line 1: write one point a line"),
        ("0.15", "Line 1: write one point a line"),
        ("0 nan", "Line 1: “nan” stands for no number"),
    ],
)
def test_every_unreadable_line_is_named(text, words):
    _, faults = read_points(text)
    assert faults[0].startswith(words)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"log_exposure,density\n0,0.06\n0.15,0.08\n", ""),
        (b"log_exposure;density\n0;0,06\n0,15;0,O8\n", "row 3, column density"),
        (b"step,density\n1,0.06\n", "log_exposure"),
        (b"\x00\x01", "paper.csv"),
    ],
)
def test_a_file_gives_its_points_or_what_to_mend(data, words):
    points, faults = read_point_file(data, "paper.csv")
    assert bool(points) != bool(faults)
    assert words in (faults[0] if faults else "")


def test_the_measures_are_those_of_the_curve_in_closed_form(admin):
    """A logistic curve: places from its inverse; the tolerance is the cubic between points."""
    measures = paper_measures(make_paper(admin))

    def place(density):
        share = (density - WHITE) / (BLACK - WHITE)
        return 1.2 + math.log(share / (1 - share)) / 5.5

    d_max = logistic_points()[-1][1]
    toe, shoulder = place(WHITE + 0.04), place(WHITE + 0.9 * (d_max - WHITE))
    found = measures["paper_exposure_range"]
    assert found.value == pytest.approx(shoulder - toe, abs=0.02)
    assert found.low < shoulder - toe < found.high
    assert measures["iso_range"].value == 110
    assert paper_grade(measures) == 2
    assert measures["paper_speed"].reason == "UNCALIBRATED"


def test_a_known_exposure_gives_a_speed_whose_interval_holds_the_exposures_error(admin):
    relative = paper_measures(make_paper(admin))
    known = paper_measures(make_paper(admin, "Lantern Gloss", log_exposure_zero=-1.0, log_exposure_sd=0.04))
    speed = known["paper_speed"]
    place = relative["paper_speed_point"].value - 1.0
    assert speed.value == pytest.approx(1000 / 10**place)
    own = relative["paper_speed_point"]
    for end, opposite in ((speed.high, own.low), (speed.low, own.high)):
        # Faster is less exposure; both errors are independent, on the logarithmic scale.
        expected = math.hypot(own.value - opposite, 1.959964 * 0.04)
        assert abs(math.log10(end / speed.value)) == pytest.approx(expected, rel=1e-4)
    assert known["paper_exposure_range"] == relative["paper_exposure_range"]


def test_without_paper_white_what_stands_on_it_is_withheld(admin):
    measures = paper_measures(make_paper(admin, base_plus_fog=None))
    assert measures["iso_range"].reason == measures["paper_speed"].reason == "NO_BASE_FOG"
    assert measures["paper_d_max"].value is not None


def test_an_admin_types_a_curve_puts_it_in_force_and_sees_its_range(client_for, admin):
    client = client_for(admin)
    answer = client.post(reverse("paper_new"), TYPED, follow=True)
    assert "Lantern Matt, curve 1" in answer.text
    curve = PaperRevision.objects.get()
    enforce = reverse("paper_revision_enforce", args=[curve.paper_id, 1])
    seen = re.search(r'name="seen" value="(\w+)"', client.get(enforce).text)[1]
    answer = client.post(enforce, {"seen": seen}, follow=True)
    assert answer.status_code == 200
    assert "In force: curve 1" in answer.text
    assert "grade 2" in answer.text
    assert "Paper&#x27;s exposure range" in answer.text
    assert "Withheld. The exposure is relative" in answer.text


def test_a_file_gives_the_points_and_a_bad_one_loses_nothing(client_for, admin):
    client = client_for(admin)
    rows = "".join(f"{x},{d}\n" for x, d in logistic_points(count=9))
    file = SimpleUploadedFile("paper.csv", f"log_exposure,density\n{rows}".encode())
    client.post(reverse("paper_new"), TYPED | {"points": "", "file": file})
    assert PaperRevision.objects.get().points.count() == 9
    bad = SimpleUploadedFile("paper.csv", b"log_exposure,density\n0,zero\n")
    answer = client.post(reverse("paper_new"), TYPED | {"name": "Other", "file": bad})
    assert answer.status_code == 400
    assert "“zero” is not a number" in answer.text
    assert "Lin, reflection densitometer" in answer.text
    assert Paper.objects.count() == 1


def test_points_that_are_refused_stay_as_they_were_typed(client_for, admin):
    answer = client_for(admin).post(reverse("paper_new"), TYPED | {"points": "0 0.06\n0.15 0.08"})
    assert answer.status_code == 400
    assert "Enter 5 to 60 points; there are 2." in answer.text
    assert "0 0.06\n0.15 0.08" in answer.text


def test_a_second_curve_shows_what_moved(client_for, admin):
    first = make_paper(admin)
    client = client_for(admin)
    client.post(reverse("paper_revise", args=[first.paper_id]), {"change_note": "new box"})
    answer = client.get(reverse("paper_revision", args=[first.paper_id, 2]))
    assert "new box" in answer.text
    assert "Measured on" in answer.text


def test_visitors_of_an_open_lab_see_what_is_in_force_alone(client_for, admin, visitor):
    from labsite.accounts.services import update_lab

    update_lab(actor=admin, name="Lab", contact="", is_open_to_visitors=True)
    make_paper(admin)
    draft = draft_paper(admin, "Lantern Gloss")
    client = client_for(visitor)
    listed = client.get(reverse("paper_list")).text
    assert "Lantern Matt" in listed and "Lantern Gloss" not in listed
    assert client.get(reverse("paper", args=[draft.paper_id])).status_code == 404


def test_a_paper_takes_no_query_a_point(client_for, admin, owner, django_assert_max_num_queries):
    curve = make_paper(admin, points=logistic_points(count=60))
    client = client_for(owner)
    with django_assert_max_num_queries(6):
        answer = client.get(reverse("paper", args=[curve.paper_id]))
    assert answer.status_code == 200
