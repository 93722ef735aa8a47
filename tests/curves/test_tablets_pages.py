"""Calibrations on their pages: densities typed, pasted, from a file or nominal, and what is refused."""

import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from curves.models import StepTablet, TabletRevision
from curves.pages.control.step_densities import densities_text, read_densities, read_density_file
from tests.factories.standards import DENSITIES, make_tablet

TYPED = {
    "name": "Tablet A",
    "about": "In the grey drawer.",
    "calibrated_on": "2026-03-02",
    "source": "certificate 118",
    "density_sd": "0.01",
    "densities": "1\t0.05\n2\t0.20\n3\t0.35\n",
    "first": "0.05",
    "spacing": "0.15",
    "count": "21",
}


@pytest.mark.parametrize(
    "text",
    [
        "0.05\n0.2\n0.35",
        "1 0.05\n2 0.2\n3 0.35\n",
        "1\t0,05\r\n2\t0,20\r\n3\t0,35\r\n",
        "step;density\n1;0,05\n2;0,2\n3;0,35",
        "0.05 0.20 0.35",
        "0.05, 0.20, 0.35",
        "\n1. 0.05\n\n2. 0.20\n3. 0.35",
    ],
)
def test_densities_are_read_as_people_write_them(text):
    assert read_densities(text) == ([0.05, 0.2, 0.35], [])


def test_what_the_field_shows_it_reads_again():
    assert read_densities(densities_text(DENSITIES)) == (DENSITIES, [])


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("0.05\nabc\n0.35", "Line 2: “abc” is not a number"),
        ("1 0.05\n3 0.35", "Line 2: step 2 belongs here, not “3”"),
        ("1 0.05 0.06\n2 0.2 0.21", "Line 1: write one step a line"),
        ("0.05\nnan", "Line 2: “nan” stands for no number"),
    ],
)
def test_every_unreadable_line_is_named(text, words):
    _, faults = read_densities(text)
    assert faults[0].startswith(words)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"step,density\n1,0.05\n2,0.20\n3,0.35\n", ""),
        (b"step,density\n1,0.05\n2,0.2O\n", "row 3, column density"),
        (b"step,density\n1,0.05\n3,0.35\n", "steps count from 1 without a gap"),
        (b"step,density_1,density_2\n1,0.05,0.06\n2,0.20,0.21\n", "one density a step"),
        (b"\x00\x01\x02", "cal.csv"),
    ],
)
def test_a_file_gives_its_densities_or_what_to_mend(data, words):
    densities, faults = read_density_file(data, "cal.csv")
    assert bool(densities) != bool(faults)
    assert words in (faults[0] if faults else "")


def test_an_admin_types_a_calibration_and_sees_its_steps(client_for, admin):
    answer = client_for(admin).post(reverse("tablet_new"), TYPED, follow=True)
    revision = TabletRevision.objects.get()
    assert [step.density for step in revision.steps.all()] == [0.05, 0.2, 0.35]
    assert "<dt>Step 2</dt><dd>0.200</dd>" in answer.text
    assert "calibration 1" in answer.text


def test_nominal_values_fill_in_the_densities_and_save_nothing(client_for, admin):
    client = client_for(admin)
    answer = client.post(reverse("tablet_new"), TYPED | {"densities": "", "fill_nominal": "1"})
    assert answer.status_code == 200
    assert "21\t3.05" in answer.text
    assert 'value="certificate 118"' in answer.text
    assert not StepTablet.objects.exists()
    answer = client.post(reverse("tablet_new"), TYPED | {"count": "900", "fill_nominal": "1"})
    assert "Steps: Ensure this value is less than or equal to 60." in answer.text
    assert "2\t0.20" in answer.text


def test_a_file_fills_in_the_densities_and_saves_nothing(client_for, admin):
    client = client_for(admin)
    for data, expected in (
        (b"step;density\n1;0,06\n2;0,21\n", "2\t0.21"),
        (b"step;density\n1;zero\n", "“zero” is not a number"),
    ):
        file = SimpleUploadedFile("cal.csv", data)
        answer = client.post(reverse("tablet_new"), TYPED | {"read_file": "1", "file": file})
        assert expected in answer.text
        assert 'value="certificate 118"' in answer.text
    assert "Choose a file first." in client.post(reverse("tablet_new"), TYPED | {"read_file": "1"}).text
    assert not StepTablet.objects.exists()


def test_faulty_steps_are_named_and_the_text_stays(client_for, admin):
    typed = TYPED | {"densities": "0.05\n0.30\n0.20"}
    answer = client_for(admin).post(reverse("tablet_new"), typed)
    assert answer.status_code == 400
    assert "Step 3 (0.2) has to be more dense than step 2 (0.3)" in answer.text
    assert "0.05\n0.30\n0.20" in answer.text


def test_a_new_calibration_shows_which_steps_moved(client_for, admin):
    first = make_tablet(admin)
    client = client_for(admin)
    answer = client.post(
        reverse("tablet_revise", args=[first.tablet_id]), {"change_note": "yearly"}, follow=True
    )
    seen = re.search(r'name="seen" value="(\w+)"', answer.text)[1]
    assert "7\t0.95" in answer.text
    second = TabletRevision.objects.get(number=2)
    moved = densities_text([d + 0.02 if d == 0.95 else d for d in DENSITIES])
    typed = TYPED | {"densities": moved, "seen": seen, "change_note": "yearly", "source": "certificate 204"}
    answer = client.post(reverse("tablet_revision_edit", args=[first.tablet_id, 2]), typed, follow=True)
    assert '<th scope="row">Step 7</th><td><del>0.950</del></td><td><ins>0.970</ins></td>' in answer.text
    assert "Step 8</th><td><del>" not in answer.text
    assert second.steps.count() == 21


def test_members_read_calibrations_without_a_query_a_step(
    client_for, admin, owner, django_assert_max_num_queries
):
    revision = make_tablet(admin)
    client = client_for(owner)
    # Session, user, lab, tablet, its calibrations, all their steps.
    with django_assert_max_num_queries(6):
        answer = client.get(reverse("tablet", args=[revision.tablet_id]))
    assert "Density of each step, D" in answer.text
