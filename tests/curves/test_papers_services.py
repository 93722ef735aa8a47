"""Printing papers: what a measured curve may say, and what is refused."""

import math
from datetime import timedelta

import pytest
from django.utils import timezone

from curves.models import Paper, PaperPoint, RevisionState
from curves.services.papers import PAPERS
from curves.services.standards import edit_draft, put_in_force, revise_standard
from labsite.common.errors import InvalidInput, NotAllowed, WrongState
from tests.factories.papers import draft_paper, logistic_points, make_paper


def test_a_curve_keeps_its_points(admin):
    curve = make_paper(admin)
    assert [[p.log_exposure, p.density] for p in curve.points.all()] == logistic_points()
    assert str(curve) == "Lantern Matt, curve 1"


def test_editing_a_draft_writes_its_points_anew(admin):
    draft = draft_paper(admin)
    fewer = logistic_points(count=7)
    edit_draft(kind=PAPERS, actor=admin, revision_id=draft.pk, points=fewer)
    assert [[p.log_exposure, p.density] for p in draft.points.all()] == fewer
    edit_draft(kind=PAPERS, actor=admin, revision_id=draft.pk, grade="grade 3")
    assert draft.points.count() == 7


def test_a_new_measurement_leaves_the_old_curve_as_it_was(admin):
    first = make_paper(admin)
    second = revise_standard(
        kind=PAPERS, actor=admin, standard_id=first.paper_id, change_note="a new box of the same paper"
    )
    assert (second.measured_on, second.source) == (timezone.localdate(), "")
    with pytest.raises(InvalidInput) as refused:
        put_in_force(kind=PAPERS, actor=admin, revision_id=second.pk)
    assert refused.value.field == "source"
    edit_draft(kind=PAPERS, actor=admin, revision_id=second.pk, source="Ola", points=logistic_points(rate=5))
    put_in_force(kind=PAPERS, actor=admin, revision_id=second.pk)
    first.refresh_from_db()
    assert first.state == RevisionState.SUPERSEDED
    assert first.points.count() == 17
    with pytest.raises(WrongState, match="Revise the printing paper"):
        edit_draft(kind=PAPERS, actor=admin, revision_id=second.pk, grade="grade 5")


def test_only_admins_enter_papers(owner):
    with pytest.raises(NotAllowed):
        draft_paper(owner)


def _with(points, at, point):
    return [*points[:at], point, *points[at + 1 :]]


GOOD = logistic_points()


@pytest.mark.parametrize(
    ("values", "field", "words"),
    [
        ({"points": []}, "points", "5 to 60 points; there are 0"),
        ({"points": GOOD[:4]}, "points", "there are 4"),
        ({"points": logistic_points(count=61)}, "points", "there are 61"),
        ({"points": _with(GOOD, 2, [0.1, 0.5])}, "points", "Point 3: log exposure 0.1 has to be above"),
        ({"points": _with(GOOD, 12, [1.8, 1.2])}, "points", "Point 13: density 1.2 falls from"),
        ({"points": _with(GOOD, 1, [0.15, math.nan])}, "points", "Point 2: a print's density"),
        ({"points": _with(GOOD, 16, [2.4, 9.0])}, "points", "not at 9"),
        ({"points": _with(GOOD, 16, [math.inf, 2.1])}, "points", "Point 17: a log exposure"),
        ({"points": [[x, 0.06] for x, _ in GOOD]}, "points", "rises by less than 0.3 D"),
        ({"density_sd": 0.0}, "density_sd", "0.001 to 0.2 density"),
        ({"base_plus_fog": 1.2}, "base_plus_fog", "-0.1 to 0.5"),
        ({"log_exposure_zero": 40.0}, "log_exposure_zero", "can't be right"),
        ({"log_exposure_sd": 0.03}, "log_exposure_sd", "no absolute exposure"),
        ({"log_exposure_zero": 0.2}, "log_exposure_sd", "No exposure is known exactly"),
        ({"grade": " "}, "grade", "blank"),
        ({"developer": ""}, "developer", "blank"),
        ({"measured_on": timezone.localdate() + timedelta(days=2)}, "measured_on", "still to come"),
    ],
)
def test_curves_that_cannot_be_right_are_refused(admin, values, field, words):
    with pytest.raises(InvalidInput) as refused:
        draft_paper(admin, **values)
    assert {problem["field"] for problem in refused.value.problems} == {field}
    assert words in refused.value.message
    assert not Paper.objects.exists() and not PaperPoint.objects.exists()
