"""Aims, carrying over, and the verdict on a strip: states, reasons, rules, causes, refusals."""

import json
from dataclasses import replace

import numpy as np
import pytest

from curves.sensitometry.codes import REASONS
from curves.sensitometry.controlling.aims import StripAims
from curves.sensitometry.controlling.control_strips import QUANTITIES, ControlStrip
from curves.sensitometry.controlling.strip_aims import TYPICAL_LIMITS, set_aims, stated_aims
from curves.sensitometry.controlling.strip_batches import carry_over
from curves.sensitometry.controlling.strip_causes import CAUSES, likely_causes
from curves.sensitometry.controlling.strip_reading import classify_strip
from curves.sensitometry.measures import SensitometryError
from tests.sensitometry.control_lab import TRUE_AIMS, Fault, read_strip, read_strips, true_sd

NAN = float("nan")
#: Readings of a steady process: base plus fog, speed step, high step, maximum density [D].
STEADY = [
    (0.25, 0.36, 1.60, 2.20), (0.25, 0.38, 1.63, 2.22), (0.26, 0.35, 1.58, 2.17), (0.25, 0.36, 1.61, 2.21),
    (0.24, 0.37, 1.59, 2.19), (0.25, 0.35, 1.60, 2.23), (0.26, 0.37, 1.62, 2.18), (0.25, 0.36, 1.58, 2.20),
    (0.24, 0.35, 1.61, 2.21), (0.25, 0.36, 1.60, 2.19), (0.26, 0.37, 1.61, 2.22), (0.25, 0.36, 1.59, 2.20),
]  # fmt: skip


def strips_of(rows, **labels):
    return [ControlStrip(*row, **labels) for row in rows]


AIMS = set_aims(strips_of(STEADY))


def moved(base_fog=0.0, speed_step=0.0, high_step=0.0, dmax=0.0, **labels):
    return ControlStrip(0.25 + base_fog, 0.36 + speed_step, 1.60 + high_step, 2.20 + dmax, **labels)


def test_aims_are_means_with_limits_from_moving_ranges():
    aim = AIMS.aims["base_fog"]
    values = np.array([row[0] for row in STEADY])
    assert aim.centre.value == pytest.approx(values.mean())
    sd = np.abs(np.diff(values)).mean() / (2 / np.sqrt(np.pi))
    assert aim.spread.value == pytest.approx(sd)
    assert aim.action == pytest.approx(3 * aim.widening * sd)
    assert aim.warning == pytest.approx(2 * aim.widening * sd)
    assert 1.1 < aim.widening < 1.4
    assert not AIMS.is_provisional
    assert AIMS.suspects == ()
    assert set(AIMS.aims) == set(QUANTITIES)


def test_contrast_is_high_less_speed_step_and_its_reading_error_counts_twice():
    strip = ControlStrip(0.25, 0.36, 1.60)
    assert strip.contrast == pytest.approx(1.24)
    assert strip.uncertainty("contrast") == pytest.approx(strip.reading_sd * np.sqrt(2))
    assert strip.value("dmax") is None


def test_a_drift_does_not_make_the_limits_wide():
    drifting = [ControlStrip(b, s, h + 0.02 * n, d) for n, (b, s, h, d) in enumerate(STEADY)]
    steady, found = AIMS.aims["contrast"], set_aims(drifting).aims["contrast"]
    assert found.spread.value < 1.5 * steady.spread.value
    assert np.std([s.contrast for s in drifting]) > 2 * found.spread.value


def test_a_strip_that_does_not_belong_is_named():
    rows = [*STEADY, (0.25, 0.36, 1.95, 2.20), *STEADY]
    assert (12, "contrast") in set_aims(strips_of(rows)).suspects


def test_another_developer_batch_is_no_neighbour():
    rows = strips_of(STEADY[:6], developer_batch="a") + [
        replace(s, high_step=s.high_step + 0.2) for s in strips_of(STEADY[6:], developer_batch="b")
    ]
    apart = set_aims(rows).aims["contrast"].spread.value
    together = set_aims([replace(s, developer_batch="") for s in rows]).aims["contrast"].spread.value
    assert together > 1.4 * apart


@pytest.mark.parametrize(
    ("count", "is_known", "is_provisional"),
    [(4, False, True), (5, True, True), (9, True, True), (10, True, False)],
)
def test_few_strips_make_provisional_aims_or_none(count, is_known, is_provisional):
    aims = set_aims(strips_of(STEADY[:count]))
    assert aims.aims["contrast"].is_known is is_known
    assert aims.is_provisional is is_provisional
    if not is_known:
        assert aims.aims["contrast"].centre.reason == "TOO_FEW_STRIPS"
        assert set(aims.lacking) == {"base_fog", "speed_step", "contrast"}
        assert classify_strip(moved(), aims).reason == "TOO_FEW_STRIPS"


def test_readings_that_are_all_alike_leave_the_reading_error():
    aims = set_aims(strips_of([STEADY[0]] * 10))
    assert aims.aims["dmax"].spread.value == 0.005
    assert aims.aims["contrast"].spread.value == pytest.approx(0.005 * np.sqrt(2))
    assert classify_strip(moved(dmax=0.01), aims).state == "in_control"


def test_aims_are_stored_and_read_again():
    stored = json.dumps(AIMS.to_dict(), allow_nan=False)
    assert StripAims.from_dict(json.loads(stored)) == AIMS
    stated = stated_aims(TRUE_AIMS, strip_batch="new")
    assert StripAims.from_dict(json.loads(json.dumps(stated.to_dict()))) == stated
    assert json.loads(stored)["aims"]["contrast"]["action_high"] == pytest.approx(
        AIMS.aims["contrast"].centre.value + AIMS.aims["contrast"].action
    )


def test_stated_aims_prove_nothing_but_find_faults():
    aims = stated_aims(TRUE_AIMS)
    within = classify_strip(moved(), aims)
    assert (within.state, within.reason) == ("unproven", "PROVISIONAL_AIMS")
    assert within.false_alarm_strips is None
    assert classify_strip(moved(high_step=0.10), aims).state == "out_of_control"
    # On the limit is not beyond it, and between the limits is a warning.
    assert classify_strip(moved(high_step=0.09), aims).deviations["contrast"].place == "warning"
    assert classify_strip(moved(high_step=0.06), aims).deviations["contrast"].place == "within"
    warning, action = TYPICAL_LIMITS["base_fog"]
    assert aims.aims["base_fog"].score([warning, action, -action]) == pytest.approx([2, 3, -3])


def test_in_control():
    verdict = classify_strip(moved(), AIMS, strips_of(STEADY))
    assert (verdict.state, verdict.reason, verdict.causes) == ("in_control", None, ())
    assert verdict.text.startswith("In control")
    difference = verdict.deviations["contrast"].difference
    assert difference.unit == "D"
    assert difference.low < 0 < difference.high
    # Its interval holds reading (twice) and the aim's own error.
    assert difference.standard_error == pytest.approx(
        np.hypot(0.005 * np.sqrt(2), AIMS.aims["contrast"].centre.standard_error), rel=1e-6
    )
    assert 10 < verdict.false_alarm_strips < 56


def test_out_of_control_names_rule_step_and_amount():
    verdict = classify_strip(moved(high_step=-0.12), AIMS)
    assert verdict.state == "out_of_control"
    assert {(name, s.rule, s.side) for name, s in verdict.signals} == {("contrast", "beyond_action", -1)}
    assert "Contrast" in verdict.text
    assert "−0.1" in verdict.text
    assert verdict.directions == {"base_fog": "0", "speed_step": "0", "contrast": "-", "dmax": "0"}


def test_a_rule_over_several_strips():
    aim = AIMS.aims["contrast"]
    beyond_warning = (aim.warning + aim.action) / 2 + aim.centre.value - 1.24
    first, between, last = moved(high_step=beyond_warning), moved(), moved(high_step=beyond_warning)
    verdict = classify_strip(last, AIMS, [first, between])
    ((name, signal),) = verdict.signals
    assert (name, signal.rule, signal.window) == ("contrast", "two_of_three", (0, 1, 2))
    # The strip after is within again: the run is no longer out of control, by the same window.
    assert classify_strip(moved(), AIMS, [first, last]).state == "in_control"
    # Another developer batch restarts the window.
    other = replace(last, developer_batch="fresh")
    assert classify_strip(other, AIMS, [first, between]).state == "in_control"


def test_slow_rules_call_for_attention_only():
    shifted = [moved(base_fog=0.01, high_step=0.012) for _ in range(9)]
    verdict = classify_strip(shifted[-1], AIMS, shifted[:-1])
    assert verdict.state == "in_control"
    assert ("contrast", "eight_one_side") in {(name, s.rule) for name, s in verdict.watch}
    assert "To watch" in verdict.text
    strict = classify_strip(shifted[-1], AIMS, shifted[:-1], rules="western_electric")
    assert strict.state == "out_of_control"


def test_a_deviation_within_the_reading_error_is_on_no_side():
    tiny = [moved(base_fog=0.0, speed_step=0.004, dmax=0.004) for _ in range(9)]
    verdict = classify_strip(tiny[-1], AIMS, tiny[:-1])
    assert {name for name, _ in verdict.watch} <= {"base_fog", "contrast"}


@pytest.mark.parametrize(
    ("strip", "aims", "reason"),
    [
        (moved(), None, "NO_AIMS"),
        (moved(), set_aims([]), "NO_AIMS"),
        (moved(strip_batch="new"), AIMS, "OTHER_STRIP_BATCH"),
        (ControlStrip(0.25, None, 1.60, 2.20), AIMS, "MISSING_STEP"),
        (ControlStrip(0.25, 0.36, NAN, 2.20), AIMS, "MISSING_STEP"),
        (ControlStrip(None, None, None, None), AIMS, "MISSING_STEP"),
        (ControlStrip(0.25, 0.36, 1e300, 2.20), AIMS, "MISSING_STEP"),
        (moved(), set_aims(strips_of(STEADY[:7])), "PROVISIONAL_AIMS"),
        (ControlStrip(0.25, 0.36, 1.60), set_aims(strips_of([row[:3] for row in STEADY])), None),
        (moved(), set_aims([ControlStrip(b, s, None, d) for b, s, _, d in STEADY]), "TOO_FEW_STRIPS"),
    ],
)
def test_unproven_says_why(strip, aims, reason):
    verdict = classify_strip(strip, aims)
    assert verdict.state == ("in_control" if reason is None else "unproven")
    assert verdict.reason == reason
    assert reason is None or REASONS[reason] in verdict.text
    assert json.dumps(verdict.to_dict(), allow_nan=False)


def test_a_broken_rule_counts_whatever_is_missing():
    verdict = classify_strip(ControlStrip(0.40, None, None, None), AIMS)
    assert verdict.state == "out_of_control"
    assert verdict.directions["contrast"] == "?"


def carried(rng, offset, old_count=4, new_count=4, runs=1):
    old, new = [], []
    for run in range(runs):
        development = rng.normal(0, 0.03)
        fault = Fault(development=development)
        old += read_strips(rng, old_count, fault, strip_batch="old", run=f"run {run}")
        fresh = Fault(development=development, speed_step=offset, dmax=-offset)
        new += read_strips(rng, new_count, fresh, strip_batch="new", run=f"run {run}")
    return carry_over(old, new)


def test_the_offset_of_a_new_batch_is_found_within_its_interval():
    """Three runs of four strips each that differ between runs; the runs cancel. 400 trials."""
    rng = np.random.default_rng(21)
    found = [carried(rng, 0.05, runs=3) for _ in range(400)]
    offsets = [each.offsets["speed_step"] for each in found]
    assert np.mean([each.value for each in offsets]) == pytest.approx(0.05, abs=0.001)
    # Standard error of such a share is 1.1 points; rounding to 0.01 D is in the readings too.
    assert 0.92 <= np.mean([each.low <= 0.05 <= each.high for each in offsets]) <= 0.985
    assert found[0].runs == 3


def test_carried_aims_judge_the_new_batch():
    rng = np.random.default_rng(22)
    old_aims = set_aims(read_strips(rng, 30, strip_batch="old"))
    offset = carried(rng, 0.05, 12, 12, runs=3)
    aims = offset.applied_to(old_aims)
    assert aims.strip_batch == "new"
    assert aims.aims["speed_step"].action == old_aims.aims["speed_step"].action
    assert aims.aims["speed_step"].centre.standard_error > old_aims.aims["speed_step"].centre.standard_error
    new = read_strip(rng, Fault(speed_step=0.05, dmax=-0.05), strip_batch="new")
    assert classify_strip(new, aims).state == "in_control"
    assert classify_strip(new, old_aims).reason == "OTHER_STRIP_BATCH"
    assert json.dumps(offset.to_dict(), allow_nan=False)
    with pytest.raises(SensitometryError):
        offset.applied_to(aims)


def test_an_offset_that_is_hardly_known_makes_the_aims_provisional():
    rng = np.random.default_rng(23)
    old_aims = set_aims(read_strips(rng, 30, strip_batch="old"))
    assert carried(rng, 0.05, 3, 3).applied_to(old_aims).is_provisional
    assert not carried(rng, 0.05, 10, 10, runs=3).applied_to(old_aims).is_provisional


def test_too_few_strips_or_none_in_the_same_run_carry_nothing_over():
    rng = np.random.default_rng(24)
    old_aims = set_aims(read_strips(rng, 30, strip_batch="old"))
    few = carried(rng, 0.05, 2, 3)
    assert few.offsets["speed_step"].reason == "TOO_FEW_STRIPS"
    aims = few.applied_to(old_aims)
    assert not aims.aims["speed_step"].is_known
    assert classify_strip(replace(moved(), strip_batch="new"), aims).reason == "TOO_FEW_STRIPS"
    old = read_strips(rng, 5, strip_batch="old", run="monday")
    for label in ("tuesday", ""):
        apart = carry_over(old, read_strips(rng, 5, strip_batch="new", run=label))
        assert {each.reason for each in apart.offsets.values()} == {"TOO_FEW_STRIPS"}
    assert carry_over([], []).offsets["dmax"].reason == "TOO_FEW_STRIPS"


@pytest.mark.parametrize(
    "call",
    [
        lambda: ControlStrip(0.2, 0.3, 1.6, reading_sd=0.0),
        lambda: ControlStrip(0.2, 0.3, 1.6, reading_sd=NAN),
        lambda: moved().value("luck"),
        lambda: set_aims([moved(strip_batch="a"), moved(strip_batch="b")]),
        lambda: stated_aims({"luck": 0.3}),
        lambda: stated_aims({"contrast": NAN}),
        lambda: stated_aims({"contrast": 1.2}, limits={"contrast": (0.09, 0.06)}),
        lambda: carry_over([moved(strip_batch="a")], [moved(strip_batch="a")]),
        lambda: carry_over([moved(strip_batch="a"), moved(strip_batch="b")], []),
        lambda: classify_strip(moved(), AIMS, rules="lucky"),
    ],
)
def test_misuse_is_told(call):
    with pytest.raises(SensitometryError):
        call()


def pattern(base_fog, speed_step, contrast, dmax):
    return {"base_fog": base_fog, "speed_step": speed_step, "contrast": contrast, "dmax": dmax}


@pytest.mark.parametrize(
    ("seen", "onset", "is_even", "keys"),
    [
        (pattern("0", "+", "+", "+"), "sudden", False, ["overdevelopment"]),
        (pattern("+", "+", "+", "+"), "", False, ["overdevelopment", "over_replenishment"]),
        (pattern("0", "+", "+", "+"), "gradual", False, ["over_replenishment"]),
        (pattern("0", "-", "-", "-"), "sudden", False, ["underdevelopment"]),
        (pattern("0", "-", "-", "-"), "gradual", False, ["exhaustion"]),
        (pattern("+", "+", "-", "0"), "", False, ["contamination", "light_fog"]),
        (pattern("+", "-", "-", "-"), "", False, ["contamination"]),
        (pattern("+", "0", "0", "0"), "", False, ["veil"]),
        (pattern("+", "+", "0", "+"), "", True, ["zero_error", "veil"]),
        (pattern("-", "-", "0", "-"), "", True, ["zero_error"]),
        (pattern("-", "-", "0", "-"), "", False, []),
        (pattern("0", "+", "0", "0"), "", False, ["strip_exposure"]),
        (pattern("0", "0", "0", "-"), "", False, ["high_density_loss"]),
        (pattern("0", "-", "+", "0"), "gradual", False, ["bromide"]),
        (pattern("-", "+", "-", "+"), "", False, []),
        (pattern("0", "0", "0", "0"), "", False, []),
        (pattern("?", "?", "+", "?"), "sudden", False, ["overdevelopment"]),
    ],
)
def test_causes_follow_from_the_pattern(seen, onset, is_even, keys):
    assert [cause.key for cause in likely_causes(seen, onset, is_even)] == keys


def test_every_cause_can_be_found_and_says_what_it_stands_on():
    for cause in CAUSES:
        seen = {
            name: "+" if "+" in allowed and "-" not in allowed else allowed[-1]
            for name, allowed in cause.pattern.items()
        }
        assert cause in likely_causes(seen, cause.onset, cause.is_even), cause.key
        assert cause.to_dict()["basis"] == "common practice, no source"
        assert cause.text.endswith(".")
        assert cause.check.endswith(".")


@pytest.mark.parametrize(
    ("fault", "key"),
    [
        (Fault(development=0.14), "overdevelopment"),
        (Fault(development=-0.14), "underdevelopment"),
        (Fault(zero=0.05), "zero_error"),
        (Fault(zero=-0.05), "zero_error"),
        (Fault(base_fog=0.06, speed_step=0.06, contrast=-0.10), "light_fog"),
        (Fault(base_fog=0.06, contrast=-0.12, dmax=-0.12), "contamination"),
        (Fault(dmax=-0.20), "high_density_loss"),
        (Fault(speed_step=0.10), "strip_exposure"),
        (Fault(base_fog=0.06), "veil"),
    ],
)
def test_the_simulated_fault_is_among_the_causes(fault, key):
    """One hundred labs with aims from 20 strips; noise may move another step, hence not always."""
    rng = np.random.default_rng(25)
    named = 0
    for _ in range(100):
        aims = set_aims(read_strips(rng, 20))
        verdict = classify_strip(read_strip(rng, fault), aims, read_strips(rng, 3))
        named += key in {cause.key for cause in verdict.causes}
    assert named >= 75


def test_a_pattern_without_a_name_says_so():
    verdict = classify_strip(moved(base_fog=-0.10, dmax=0.3), AIMS)
    assert verdict.state == "out_of_control"
    assert verdict.causes == ()
    assert "no usual cause" in verdict.causes_note


def test_the_spread_of_the_simulated_lab_is_found_by_aims():
    rng = np.random.default_rng(26)
    aims = set_aims(read_strips(rng, 2000, decimals=None))
    for quantity, aim in aims.aims.items():
        # 2000 strips leave a standard error of 1.9 % of the spread; three of them.
        assert aim.spread.value == pytest.approx(true_sd(quantity), rel=0.06)
        assert aim.centre.value == pytest.approx(TRUE_AIMS[quantity], abs=0.002)
