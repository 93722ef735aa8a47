"""Exposure standards: what a revision may say, and what it needs before it is in force."""

import math

import pytest

from curves.models import ExposureStandard, RevisionState
from curves.services.exposures import EXPOSURES
from curves.services.standards import edit_draft, put_in_force, revise_standard
from labsite.common.errors import InvalidInput, WrongState
from tests.factories.standards import draft_exposure, draft_tablet, make_exposure, make_tablet


def test_a_standard_is_absolute_or_relative(admin):
    tablet = make_tablet(admin).tablet
    absolute = make_exposure(admin, "Daylight contact", tablet=tablet)
    relative = make_exposure(
        admin, "Window light", tablet=tablet, log_exposure_clear=None, log_exposure_sd=0.0
    )
    assert absolute.is_absolute
    assert not relative.is_absolute


def test_a_revision_names_another_tablet_and_the_old_one_keeps_its_own(admin):
    first = make_exposure(admin, tablet=make_tablet(admin, "Tablet A").tablet)
    other = make_tablet(admin, "Tablet B").tablet
    second = revise_standard(
        kind=EXPOSURES, actor=admin, standard_id=first.standard_id, change_note="tablet A is scratched"
    )
    edit_draft(kind=EXPOSURES, actor=admin, revision_id=second.pk, tablet_id=other.pk)
    put_in_force(kind=EXPOSURES, actor=admin, revision_id=second.pk)
    first.refresh_from_db()
    assert (first.state, first.tablet.name) == (RevisionState.SUPERSEDED, "Tablet A")
    second.refresh_from_db()
    assert (second.state, second.tablet.name) == (RevisionState.IN_FORCE, "Tablet B")


def test_a_tablet_needs_its_calibration_in_force_first(admin):
    calibration = draft_tablet(admin)
    draft = draft_exposure(admin, tablet=calibration.tablet)
    with pytest.raises(WrongState, match="Tablet A has no calibration in force"):
        put_in_force(kind=EXPOSURES, actor=admin, revision_id=draft.pk)
    draft.refresh_from_db()
    assert draft.state == RevisionState.DRAFT


@pytest.mark.parametrize(
    ("values", "field", "words"),
    [
        ({"tablet_id": 999}, "tablet_id", "999"),
        ({"tablet_id": None}, "tablet_id", "null"),
        ({"colour_temperature_k": 55}, "colour_temperature_k", "1500 to 20000 K"),
        ({"exposure_time_s": 0.0}, "exposure_time_s", "can't be right"),
        ({"exposure_time_s": math.nan}, "exposure_time_s", "can't be right"),
        ({"log_exposure_clear": 12.0}, "log_exposure_clear", "-6 to 6 log lux·s"),
        ({"log_exposure_sd": 0.0}, "log_exposure_sd", "No exposure is known exactly"),
        ({"log_exposure_sd": -0.1}, "log_exposure_sd", "0 to 0.5"),
        ({"log_exposure_clear": None}, "log_exposure_sd", "no absolute exposure"),
        ({"bracket_spacing_stops": 0.0}, "bracket_spacing_stops", "0.05 to 3 stops"),
        ({"light": ""}, "light", "blank"),
        ({"method": "guesswork"}, "method", "not a valid choice"),
    ],
)
def test_values_that_cannot_be_right_are_refused_beside_their_field(admin, values, field, words):
    tablet = make_tablet(admin).tablet
    with pytest.raises(InvalidInput) as refused:
        draft_exposure(admin, tablet=tablet, **values)
    assert [problem["field"] for problem in refused.value.problems] == [field]
    assert words in refused.value.message
    assert not ExposureStandard.objects.exists()
