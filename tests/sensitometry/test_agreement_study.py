"""A strip that goes round: what is set aside, both gauge studies, and corrections that find the truth."""

import numpy as np
import pytest

from curves.sensitometry.agreeing.gauge_study import gauge_study
from curves.sensitometry.agreeing.precision import repeatability_and_reproducibility
from curves.sensitometry.agreeing.study_corrections import (
    between_members,
    certified,
    compared,
    consensus,
    no_comparison,
)
from curves.sensitometry.agreeing.study_gauge import study_gauge
from curves.sensitometry.agreeing.study_precision import study_precision
from curves.sensitometry.agreeing.study_readings import StudyReading, spread_within, step_means

STEPS = np.linspace(0.05, 3.05, 21)
# Instrument → (zero error, scale): reading = zero + scale × density.
TRUE = {"A": (0.0, 1.0), "B": (0.06, 1.0), "C": (-0.01, 0.985)}


def study(seed=1, *, members=("mia", "jon"), instruments=TRUE, sd=0.008, member_sd=0.0, times=2, digits=2):
    """Every member reads every step with every instrument."""
    rng = np.random.default_rng(seed)
    hands = {member: rng.normal(0, member_sd) for member in members}
    return [
        StudyReading(
            step,
            member,
            name,
            round(float(zero + scale * density + hands[member] + rng.normal(0, sd)), digits),
        )
        for member in members
        for name, (zero, scale) in instruments.items()
        for step, density in enumerate(STEPS, 1)
        for _ in range(times)
    ]


@pytest.mark.parametrize("name", ["B", "C"])
def test_an_instrument_that_is_off_is_taken_back_within_a_hundredth(name):
    readings = study()
    found = compared(readings, name, step_means(readings, "A"))
    zero, scale = TRUE[name]
    line = found.correction
    at = np.array([0.1, 1.5, 3.0])
    assert line.offset.value + line.slope.value * (zero + scale * at) == pytest.approx(at, abs=0.01)
    assert line.method == "york"
    assert found.member_sd == 0.0
    assert line.offset.low <= -zero / scale <= line.offset.high


def test_intervals_of_the_offset_hold_the_truth():
    """200 studies in which members' hands differ and each has an instrument of their own: 95 % nominal."""
    held, told = 0, 0
    for seed in range(200):
        shared = study(seed, instruments={"A": (0.0, 1.0)}, member_sd=0.01, members=("mia", "jon", "ada"))
        rng = np.random.default_rng(1000 + seed)
        hand = rng.normal(0, 0.01)
        # Once on the exact density: an offset alone, so that the truth of the offset is plain.
        own = [
            StudyReading(step, "eve", "B", float(0.06 + density + hand + rng.normal(0, 0.008)))
            for step, density in enumerate(STEPS, 1)
            for _ in range(2)
        ]
        readings = shared + own
        line = compared(readings, "B", step_means(readings, "A")).correction
        # One straight line in a hundred is taken for bent, which is the level of that test.
        told += line.is_known
        held += line.is_known and line.offset.low <= -0.06 <= line.offset.high
    assert told >= 193
    # The spread between three members has two degrees of freedom, so a normal interval falls somewhat short.
    assert 0.78 <= held / told <= 0.99


def test_consensus_is_the_median_and_needs_three():
    readings = study()
    middle = consensus(readings)
    assert compared(readings, "A", middle).correction.offset.value == pytest.approx(0.0, abs=0.01)
    # The instrument that is off does not pull the others along.
    assert compared(readings, "B", middle).correction.offset.value == pytest.approx(-0.06, abs=0.012)
    two = [each for each in readings if each.instrument != "C"]
    assert consensus(two) is None


def test_certified_densities_serve_as_a_reference():
    known = certified(dict(enumerate(STEPS.tolist(), 1)), 0.01)
    line = compared(study(), "B", known).correction
    assert line.offset.value == pytest.approx(-0.06, abs=0.012)


def test_a_correction_is_withheld_where_the_data_do_not_support_one():
    few = [each for each in study() if each.step <= 4]
    assert compared(few, "B", step_means(few, "A")).correction.offset.reason == "TOO_FEW_PAIRS"
    bent = [
        StudyReading(each.step, each.member, each.instrument, each.density + 0.04 * (each.density - 1.5) ** 2)
        if each.instrument == "B"
        else each
        for each in study()
    ]
    assert compared(bent, "B", step_means(bent, "A")).correction.offset.reason == "NOT_STRAIGHT"
    assert no_comparison("TOO_FEW_LABS", "one alone").correction.is_known is False


def test_single_readings_leave_the_line_to_the_scatter():
    once = study(times=1)
    assert spread_within(once).degrees == 0
    found = compared(once, "B", step_means(once, "A"))
    assert found.correction.method == "deming"
    assert found.correction.offset.value == pytest.approx(-0.06, abs=0.015)


def test_a_hand_that_differs_is_seen_only_where_two_read_with_one_instrument():
    assert between_members(study(member_sd=0.02, members=("mia", "jon", "ada", "eve"))) > 0.005
    alone = [each for each in study() if (each.member, each.instrument) in {("mia", "A"), ("jon", "B")}]
    assert between_members(alone) is None
    assert compared(alone, "B", step_means(alone, "A")).member_sd is None


def test_who_reads_far_off_is_set_aside_and_who_is_off_by_a_digit_is_not():
    instruments = {name: (0.0, 1.0) for name in "ABCD"} | {"E": (0.15, 1.0)}
    found = study_precision(study(members=("mia",), instruments=instruments, sd=0.004, times=3))
    gone = {each.group for each in found.set_aside}
    assert "mia with E" in gone
    assert found.reproducibility_sd.value < 0.02 < found.reproducibility_of_all.value
    assert found.passes_house_limits is True
    # Two decimals: where all repeat to the digit, a single digit of difference is beyond any table.
    exact = [StudyReading(1, who, "A", 0.50) for who in "abcde" for _ in range(2)]
    digit = [*exact[:-1], StudyReading(1, "e", "A", 0.51)]
    told = study_precision(digit)
    assert told.set_aside == ()
    assert [each.test.test for each in told.stragglers] == ["grubbs_high"]
    wide = [*exact[:-1], StudyReading(1, "e", "A", 0.56)]
    assert [(each.group, each.test.test) for each in study_precision(wide).set_aside] == [
        ("e with A", "cochran")
    ]


def test_over_one_step_it_is_the_precision_of_that_step():
    readings = [each for each in study(instruments={"A": (0, 1), "B": (0.01, 1)}) if each.step == 7]
    found = study_precision(readings)
    single = repeatability_and_reproducibility([e.group for e in readings], [e.density for e in readings])
    assert found.repeatability_sd.value == pytest.approx(single.repeatability_sd.value)
    assert found.reproducibility_sd.value == pytest.approx(single.reproducibility_sd.value)


def test_the_spread_between_members_is_no_better_known_for_more_steps():
    """80 studies of four members: 95 % nominal, standard error 2.4 points."""
    held = 0
    for seed in range(80):
        rng = np.random.default_rng(seed)
        hands = rng.normal(0, 0.02, 4)
        readings = [
            StudyReading(step, f"m{k}", "A", float(1.0 + hand + rng.normal(0, 0.008)))
            for k, hand in enumerate(hands)
            for step in range(3)
            for _ in range(2)
        ]
        measure = study_precision(readings).reproducibility_of_all
        held += measure.low <= float(np.hypot(0.02, 0.008)) <= measure.high
    assert 0.88 <= held / 80 <= 1


def test_the_gauge_study_takes_what_is_complete():
    readings = study(times=3)
    whole = study_gauge(readings)
    table = np.array(
        [
            [[e.density for e in readings if e.group == group and e.step == step] for group in whole.groups]
            for step in range(1, 22)
        ]
    )
    assert whole.anova.to_dict() == gauge_study(table).to_dict()
    assert whole.by_range.method == "range"
    lacking = [e for e in readings if not (e.group == "jon with C" and e.step > 3)]
    lacking = [e for e in lacking if not (e.group == "mia with A" and e.step == 5)]
    part = study_gauge(lacking)
    assert part.left_out == ("jon with C",)
    assert part.steps == 20
    assert study_gauge(study(times=1)).anova is None
    assert "twice" in study_gauge([]).withheld
