"""Studies of agreement and corrections in force: from readings of a shared strip to recomputed results."""

from datetime import date, timedelta

import pytest
from django.utils import timezone

from curves.models import AgreementReading, Analysis, Reading, StockResult
from curves.queries.agreement import visible_study
from curves.queries.inputs import has_current_analysis, roll_inputs
from curves.queries.instrument_corrections import correction_effects, instrument_corrections
from curves.queries.patches import roll_patches
from curves.queries.study_results import (
    chosen_reference,
    study_proposal,
    study_references,
    study_results,
)
from curves.sensitometry import Analysis as EngineAnalysis
from curves.services.agreement import (
    close_study,
    create_study,
    record_study_readings,
    reopen_study,
    withdraw_study_readings,
)
from curves.services.instrument_corrections import correct_by_study, take_out_of_force
from curves.services.patch_readings import record_patch_frame
from curves.services.patch_sets import PatchValue, enter_patch_set
from curves.services.readings import ReadingValue, record_readings
from curves.services.reviews import accept_roll
from curves.services.rolls import assign_run, submit_roll
from labsite.accounts.models import AuditRecord
from labsite.common.errors import InvalidInput, NotAllowed, NotFound, WrongState
from labsite.jobs.runner import run_waiting_jobs
from tests.factories.instruments import make_instrument
from tests.factories.rolls import make_batch, make_roll, make_run, make_standards, reading_values
from tests.factories.standards import make_tablet
from tests.factories.studies import make_study, read_study

TODAY = timezone.localdate


@pytest.fixture
def study(owner, labmate, admin):
    """Two members have read a strip with a good instrument and one that reads 0.06 D too high; closed."""
    good, off = make_instrument(admin, "Bench A"), make_instrument(admin, "Bench B")
    made = make_study(owner)
    for seed, member in enumerate((owner, labmate)):
        read_study(made, member, good, seed=2 * seed)
        read_study(made, member, off, seed=2 * seed + 1, zero=0.06)
    close_study(actor=owner, study_id=made.pk)
    made.refresh_from_db()
    made.good, made.off = good, off
    return made


def proposed(study, instrument, reference=None):
    results = study_results(study)
    key = str((reference or study.good).pk)
    return study_proposal(results, chosen_reference(results, key), instrument.pk)


def correct(admin, study, day=None, **how):
    given = {"reference": str(study.good.pk), "reason": "reads high", "applies_from_on": day or TODAY()}
    return correct_by_study(actor=admin, study_id=study.pk, instrument_id=study.off.pk, **given | how)


def read_roll(member, batch, standards, instrument, off=0.0):
    roll = make_roll(member, batch, standards)
    values = [ReadingValue(v.step, v.replicate, round(v.density + off, 2)) for v in reading_values(roll)]
    strip = roll.strips.get()
    record_readings(actor=member, strip_id=strip.pk, values=values, instrument_id=instrument.pk)
    return roll


def test_an_instrument_whose_zero_is_wrong_is_found_within_a_hundredth(study):
    proposal = proposed(study, study.off)
    assert proposal.correction.offset.value == pytest.approx(-0.06, abs=0.01)
    assert proposal.correction.offset.value + 3 * (proposal.correction.slope.value - 1) == pytest.approx(
        -0.06, abs=0.01
    )
    assert proposal.correction.offset.low < -0.06 < proposal.correction.offset.high
    assert study_results(study).gauge.anova.components["operators"].value == pytest.approx(0.035, abs=0.006)
    assert proposed(study, study.good).correction.offset.reason == "REFERENCE_ITSELF"


def test_a_correction_in_force_recomputes_what_was_read_and_says_so(
    study, owner, admin, django_capture_on_commit_callbacks
):
    standards, batch = make_standards(admin), make_batch(owner)
    with django_capture_on_commit_callbacks(execute=True):
        true = read_roll(owner, batch, standards, study.good)
        roll = read_roll(owner, batch, standards, study.off, off=0.06)
    run_waiting_jobs()
    roll.refresh_from_db()
    before = roll.current_analysis
    raw = list(Reading.objects.filter(strip__roll=roll).values_list("density", flat=True))

    effects = correction_effects(admin, study.off, TODAY(), (0.0, 3.0))
    assert effects.resting.rolls == (roll,)
    assert (effects.reading_count, effects.beyond_count, effects.waiting) == (len(raw), 0, ())

    correction = correct(admin, study)
    assert not has_current_analysis(roll)
    waiting = correction_effects(admin, study.off, TODAY(), (0.0, 3.0)).waiting
    assert waiting == (roll,)
    run_waiting_jobs()
    roll.refresh_from_db()
    true.refresh_from_db()
    after = EngineAnalysis.from_dict(roll.current_analysis.as_dict())
    wanted = EngineAnalysis.from_dict(true.current_analysis.as_dict())
    assert after.measures["base_plus_fog"].value == pytest.approx(
        wanted.measures["base_plus_fog"].value, abs=0.01
    )
    assert after.corrected_by == (f"revision 1 of {study.off.name}",)
    assert "corrected by revision 1 of Bench B" in after.flags[0].text
    old = EngineAnalysis.from_dict(before.as_dict())
    assert after.measures["base_plus_fog"].standard_error > old.measures["base_plus_fog"].standard_error
    # Readings stay as read, the earlier result is kept, and a second run of the job adds nothing.
    assert list(Reading.objects.filter(strip__roll=roll).values_list("density", flat=True)) == raw
    assert Analysis.objects.filter(roll=roll).count() == 2
    assert roll_inputs(roll)["corrections"][0]["offset"] == correction.offset
    roll_audit = AuditRecord.objects.filter(action="fit roll again", subject_id=str(roll.pk))
    assert "brought into force" in roll_audit.latest("pk").reason

    take_out_of_force(actor=admin, correction_id=correction.pk, reason="lamp replaced")
    run_waiting_jobs()
    roll.refresh_from_db()
    assert roll.current_analysis == before
    assert Analysis.objects.filter(roll=roll).count() == 2


def test_readings_before_the_day_stay_as_they_are(study, owner, admin):
    standards, batch = make_standards(admin), make_batch(owner)
    roll = read_roll(owner, batch, standards, study.off)
    correct(admin, study, day=TODAY() + timedelta(days=1))
    assert "corrections" not in roll_inputs(roll)
    Reading.objects.filter(strip__roll=roll, step__gt=10).update(read_at=timezone.now() + timedelta(days=1))
    places = roll_inputs(roll)["strips"][0]["corrected_by"]
    assert {-1, 0} == set(places)
    assert len(places) == len(roll_inputs(roll)["strips"][0]["rows"])


def test_a_newer_revision_applies_from_its_day_and_the_older_one_before(study, owner, admin):
    first = correct(admin, study, day=TODAY() - timedelta(days=10))
    second = correct(admin, study, day=TODAY() - timedelta(days=2), reason="checked again")
    rows = instrument_corrections(owner, study.off)
    assert [(row.correction, row.state) for row in rows] == [
        (second, "in force"),
        (first, "in force for earlier readings"),
    ]
    assert rows[1].replaced_by == second
    third = correct(admin, study, day=TODAY() - timedelta(days=20), reason="was off all along")
    states = [row.state for row in instrument_corrections(owner, study.off)]
    assert states == ["in force", "replaced", "replaced"]
    take_out_of_force(actor=admin, correction_id=third.pk, reason="no, it was not")
    states = [row.state for row in instrument_corrections(owner, study.off)]
    assert states == ["taken out of force", "in force", "in force for earlier readings"]
    with pytest.raises(WrongState, match="already"):
        take_out_of_force(actor=admin, correction_id=third.pk, reason="again")


def test_who_and_when_a_correction_may_be_brought_into_force(study, owner, labmate, admin):
    with pytest.raises(NotAllowed):
        correct(owner, study)
    with pytest.raises(InvalidInput, match="Say why"):
        correct(admin, study, reason=" ")
    with pytest.raises(InvalidInput, match="no correction to bring into force"):
        correct_by_study(
            actor=admin,
            study_id=study.pk,
            instrument_id=study.good.pk,
            reference=str(study.good.pk),
            applies_from_on=TODAY(),
            reason="x",
        )
    with pytest.raises(InvalidInput, match="took part"):
        correct(admin, study, reference="999")
    with pytest.raises(InvalidInput, match="three instruments"):
        correct(admin, study, reference="consensus")
    with pytest.raises(InvalidInput, match="1900 to 2200"):
        correct(admin, study, day=date(1, 1, 1))
    seen = proposed(study, study.off).seen
    reopen_study(actor=owner, study_id=study.pk, reason="one more reading")
    with pytest.raises(WrongState, match="Close the study"):
        correct(admin, study)
    withdraw_study_readings(
        actor=labmate, study_id=study.pk, member_id=labmate.pk, instrument_id=study.off.pk, step=3,
        reason="read the wrong step",
    )  # fmt: skip
    close_study(actor=admin, study_id=study.pk)
    with pytest.raises(WrongState, match="not those that you looked at"):
        correct(admin, study, seen=seen)
    assert correct(admin, study, seen=proposed(study, study.off).seen).number == 1


def test_a_reference_that_is_corrected_itself_is_taken_as_corrected_with_its_error(study, owner, admin):
    plain = proposed(study, study.good, reference=study.off).correction
    correct(admin, study, day=TODAY() - timedelta(days=1))
    taken = proposed(study, study.good, reference=study.off).correction
    assert plain.offset.value == pytest.approx(0.06, abs=0.01)
    assert taken.offset.value == pytest.approx(0.0, abs=0.002)
    assert taken.offset.standard_error > 1.2 * plain.offset.standard_error


def test_a_calibrated_tablet_brings_its_steps_and_is_the_first_reference(owner, admin):
    tablet = make_tablet(admin)
    made = make_study(owner, tablet_revision_id=tablet.pk, step_count=None)
    assert made.step_count == tablet.steps.count()
    assert [each.key for each in study_references(study_results(made))] == ["certified", "consensus"]


def test_readings_are_the_members_own_and_nothing_is_deleted(owner, labmate, admin):
    meter, scanner = make_instrument(admin, "Bench A"), make_instrument(admin, "Scan", geometry="scanner")
    study = make_study(owner)
    give = {"study_id": study.pk, "instrument_id": meter.pk}
    assert record_study_readings(actor=owner, values=[ReadingValue(1, 1, 0.05)], **give) == 1
    assert record_study_readings(actor=labmate, values=[ReadingValue(1, 1, 0.07)], **give) == 1
    assert record_study_readings(actor=owner, values=[ReadingValue(1, 1, 0.05)], **give) == 0
    record_study_readings(actor=owner, values=[ReadingValue(1, 1, 0.06)], reason="slip", **give)
    old = AgreementReading.objects.get(is_current=False)
    assert (old.density, old.ended_reason, old.ended_by) == (0.05, "slip", owner)
    with pytest.raises(InvalidInput) as refused:
        record_study_readings(actor=owner, values=[ReadingValue(99, 1, 0.1), ReadingValue(1, 1, 9.0)], **give)
    assert [each["field"] for each in refused.value.problems] == ["d-99-1", "d-1-1"]
    with pytest.raises(InvalidInput, match="different quantities"):
        record_study_readings(
            actor=owner, study_id=study.pk, instrument_id=scanner.pk, values=[ReadingValue(1, 1, 0.1)]
        )
    with pytest.raises(NotAllowed):
        withdraw_study_readings(
            actor=labmate, study_id=study.pk, member_id=owner.pk, instrument_id=meter.pk, reason="no"
        )
    with pytest.raises(InvalidInput, match="Say why"):
        withdraw_study_readings(
            actor=owner, study_id=study.pk, member_id=owner.pk, instrument_id=meter.pk, reason=""
        )
    with pytest.raises(NotFound):
        withdraw_study_readings(
            actor=owner, study_id=study.pk, member_id=owner.pk, instrument_id=meter.pk, reason="x", step=9
        )
    with pytest.raises(NotAllowed):
        close_study(actor=labmate, study_id=study.pk)
    close_study(actor=admin, study_id=study.pk)
    with pytest.raises(WrongState, match="closed"):
        record_study_readings(actor=owner, values=[ReadingValue(2, 1, 0.1)], **give)
    assert visible_study(labmate, study.pk).reading_count == 2


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"name": "autumn ROUND"}, "name"),
        ({"step_count": 0}, "step_count"),
        ({"step_count": None}, "step_count"),
        ({"planned_replicates": 0}, "planned_replicates"),
        ({"tablet_revision_id": 4711}, "tablet_revision_id"),
        ({"density_type": "loud"}, "density_type"),
        ({"strip_name": ""}, "strip_name"),
    ],
)
def test_a_study_that_makes_no_sense_is_refused(owner, given, field):
    make_study(owner)
    with pytest.raises(InvalidInput) as refused:
        make_study(owner, **{"name": "Winter round"} | given)
    assert refused.value.field == field


def test_visitors_have_no_part_in_it(visitor, owner):
    with pytest.raises(NotAllowed):
        create_study(actor=visitor, name="x", strip_name="y", density_type="visual", geometry="diffuse")
    with pytest.raises(NotAllowed):
        visible_study(visitor, make_study(owner).pk)


def test_an_accepted_rolls_stock_is_pooled_anew(study, owner, admin):
    standards, batch = make_standards(admin), make_batch(owner)
    roll = read_roll(owner, batch, standards, study.off, off=0.06)
    assign_run(actor=owner, roll_id=roll.pk, run_id=make_run(owner, standards[0]).pk)
    run_waiting_jobs()
    submit_roll(actor=owner, roll_id=roll.pk)
    accept_roll(actor=admin, roll_id=roll.pk)
    run_waiting_jobs()
    first = StockResult.objects.get().pooled
    correct(admin, study)
    run_waiting_jobs()
    result = StockResult.objects.get().pooled
    assert result != first
    assert result.as_dict()["corrected_by"] == ["revision 1 of Bench B"]


def test_a_comparison_says_that_corrected_readings_are_in_it(client_for, study, owner, admin):
    standards, batch = make_standards(admin), make_batch(owner)
    roll = read_roll(owner, batch, standards, study.off, off=0.06)
    assign_run(actor=owner, roll_id=roll.pk, run_id=make_run(owner, standards[0]).pk)
    correct(admin, study)
    run_waiting_jobs()
    submit_roll(actor=owner, roll_id=roll.pk)
    accept_roll(actor=admin, roll_id=roll.pk)
    run_waiting_jobs()
    assert (
        "An instrument that read Alder 100 is corrected"
        in client_for(owner).get("/compare/").content.decode()
    )
    assert (
        "kept, and given as a file, as they were read"
        in client_for(owner).get(f"/rolls/{roll.pk}/").content.decode()
    )


def test_patches_are_told_on_the_scale_of_their_rolls_curve(client_for, study, owner, admin):
    standards = make_standards(admin)
    patches = [PatchValue("Middle grey", 0.18, True), PatchValue("White", 0.9, True)]
    enter_patch_set(
        actor=admin, exposure_revision_id=standards[1].pk, name="Card", source="Lin", patches=patches
    )
    roll = make_roll(owner, make_batch(owner), standards)
    record_patch_frame(
        actor=owner, roll_id=roll.pk, label="1", densities={1: 0.76, 2: 3.9}, instrument_id=study.off.pk
    )
    made = correct(admin, study)
    frame = roll_patches(owner, roll.pk).frames[0]
    assert frame.as_read == {1: 0.76, 2: 3.9}
    # The white patch lies beyond what was tested, so nothing is told from it.
    assert frame.densities == {1: pytest.approx(made.offset + made.slope * 0.76)}
    assert "Frame 1: shown as read" in client_for(owner).get(f"/rolls/{roll.pk}/patches/").content.decode()
