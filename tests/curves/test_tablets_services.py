"""Step tablets: what a calibration may say."""

import math
from datetime import date, timedelta

import pytest
from django.utils import timezone

from curves.models import RevisionState, StepTablet, TabletStep
from curves.services.standards import edit_draft, put_in_force, revise_standard
from curves.services.tablets import TABLETS, nominal_densities
from labsite.common.errors import InvalidInput, WrongState
from tests.factories.standards import DENSITIES, draft_tablet, make_tablet


def test_nominal_densities_count_from_the_first_by_equal_steps():
    # 21 steps of 0.15 from 0.05: the usual tablet. Common practice, no source.
    densities = nominal_densities(first=0.05, spacing=0.15, count=21)
    assert (len(densities), densities[0], densities[1], densities[-1]) == (21, 0.05, 0.2, 3.05)


def test_a_calibration_keeps_the_density_of_each_step(admin):
    revision = make_tablet(admin)
    assert list(revision.steps.values_list("step", "density")) == list(enumerate(DENSITIES, start=1))
    assert str(revision) == "Tablet A, calibration 1"


def test_editing_a_draft_writes_its_steps_anew(admin):
    draft = draft_tablet(admin)
    edit_draft(kind=TABLETS, actor=admin, revision_id=draft.pk, densities=[0.04, 0.21, 0.33])
    assert list(draft.steps.values_list("density", flat=True)) == [0.04, 0.21, 0.33]
    edit_draft(kind=TABLETS, actor=admin, revision_id=draft.pk, source="certificate 119")
    assert draft.steps.count() == 3


def test_a_new_calibration_starts_from_the_old_densities_but_not_from_its_date_or_source(admin):
    first = make_tablet(admin)
    second = revise_standard(
        kind=TABLETS, actor=admin, standard_id=first.tablet_id, change_note="yearly calibration"
    )
    assert [step.density for step in second.steps.all()] == DENSITIES
    assert (second.calibrated_on, second.source) == (timezone.localdate(), "")
    with pytest.raises(InvalidInput) as refused:
        put_in_force(kind=TABLETS, actor=admin, revision_id=second.pk)
    assert refused.value.field == "source"


def test_a_new_calibration_leaves_the_old_one_as_it_was(admin):
    first = make_tablet(admin)
    second = revise_standard(
        kind=TABLETS, actor=admin, standard_id=first.tablet_id, change_note="yearly calibration"
    )
    other = [round(density + 0.01, 4) for density in DENSITIES]
    edit_draft(kind=TABLETS, actor=admin, revision_id=second.pk, densities=other, source="own densitometer")
    put_in_force(kind=TABLETS, actor=admin, revision_id=second.pk)
    first.refresh_from_db()
    assert first.state == RevisionState.SUPERSEDED
    assert [step.density for step in first.steps.all()] == DENSITIES
    with pytest.raises(WrongState, match="Revise the step tablet"):
        edit_draft(kind=TABLETS, actor=admin, revision_id=second.pk, densities=DENSITIES)


def test_steps_may_fall_in_density_as_well(admin):
    assert make_tablet(admin, densities=DENSITIES[::-1]).steps.get(step=1).density == DENSITIES[-1]


@pytest.mark.parametrize(
    ("values", "field", "words"),
    [
        ({"densities": []}, "densities", "2 to 60 steps; there are 0"),
        ({"densities": [0.05]}, "densities", "there are 1"),
        ({"densities": [0.1 * step for step in range(61)]}, "densities", "there are 61"),
        ({"densities": [0.05, 0.2, 0.2, 0.5]}, "densities", "Step 3 (0.2) has to be more dense"),
        ({"densities": [0.5, 0.35, 0.36, 0.05]}, "densities", "Step 3 (0.36) has to be less dense"),
        ({"densities": [0.05, math.nan, 0.35]}, "densities", "Step 2: a tablet's density"),
        ({"densities": [0.05, 20.0]}, "densities", "not at 20"),
        ({"densities": [-0.05, 0.2]}, "densities", "between 0 and 6"),
        ({"density_sd": 0.0}, "density_sd", "0.0005 to 0.2 density"),
        ({"density_sd": math.inf}, "density_sd", "can't be right"),
        ({"source": " "}, "source", "blank"),
        ({"calibrated_on": timezone.localdate() + timedelta(days=2)}, "calibrated_on", "still to come"),
        ({"calibrated_on": None}, "calibrated_on", "null"),
    ],
)
def test_calibrations_that_cannot_be_right_are_refused(admin, values, field, words):
    with pytest.raises(InvalidInput) as refused:
        draft_tablet(admin, **values)
    assert {problem["field"] for problem in refused.value.problems} == {field}
    assert words in refused.value.message
    assert not StepTablet.objects.exists()
    assert not TabletStep.objects.exists()


def test_every_step_out_of_order_is_named(admin):
    with pytest.raises(InvalidInput) as refused:
        draft_tablet(admin, densities=[0.05, 0.2, 0.1, 0.3, 0.25], calibrated_on=date(2026, 1, 5))
    assert [problem["message"][:6] for problem in refused.value.problems] == ["Step 3", "Step 5"]
