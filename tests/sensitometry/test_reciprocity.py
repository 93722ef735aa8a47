"""Reciprocity laws: identity, order, refusal beyond the tests, and recovery of known constants."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curves.sensitometry.exposing.reciprocity import (
    FORMS,
    ReciprocityLaw,
    corrected_time,
    exposure_loss,
    fit_reciprocity,
)
from curves.sensitometry.measures import SensitometryError

LAWS = {
    "power": ReciprocityLaw("power", 1.31, 200.0, 0.02),
    "schwarzschild": ReciprocityLaw("schwarzschild", 0.86, 200.0, 0.01),
    "modified": ReciprocityLaw("modified", 0.86, 200.0, 0.01),
    "additive": ReciprocityLaw("additive", 1.45, 200.0, 0.05, 0.17, 0.02, 20.0),
}


@pytest.mark.parametrize("form", FORMS)
@settings(deadline=None, max_examples=60)  # other work may share the machine
@given(metered=st.floats(0.001, 200))
def test_times_are_never_shortened_and_short_ones_left_alone(form, metered):
    time = corrected_time(LAWS[form], metered)
    assert time.low <= time.value <= time.high
    assert time.low >= metered * (1 - 1e-12)
    if metered <= 1:
        assert time.value == metered


@pytest.mark.parametrize("form", FORMS)
@settings(deadline=None, max_examples=60)  # other work may share the machine
@given(metered=st.floats(1.5, 199))
def test_loss_undoes_the_correction(form, metered):
    law = LAWS[form]
    given_s = corrected_time(law, metered).value
    # The search for the metered time ends at 2e-12 s.
    assert exposure_loss(law, given_s).value == pytest.approx(np.log10(given_s / metered), abs=1e-9)


@pytest.mark.parametrize("form", FORMS)
def test_nothing_is_answered_beyond_the_longest_test(form):
    law = LAWS[form]
    assert corrected_time(law, 200.1).reason == "OUTSIDE_TESTED_RANGE"
    assert exposure_loss(law, 1e6).reason == "OUTSIDE_TESTED_RANGE"


@pytest.mark.parametrize("form", FORMS)
def test_known_constants_are_recovered(form):
    """Exact tests give the law's own constants back."""
    metered = np.array([2.0, 5.0, 20.0, 60.0, 200.0])
    corrected = [corrected_time(LAWS[form], t).value for t in metered]
    law = fit_reciprocity(form, metered, corrected)
    assert law.exponent == pytest.approx(LAWS[form].exponent, rel=1e-9)
    assert law.coefficient == pytest.approx(LAWS[form].coefficient, rel=1e-9)
    assert law.longest_tested_s == 200
    assert law.exponent_sd == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize("form", FORMS)
def test_intervals_hold_the_truth(form):
    """400 sets of five tests with 5 % error: three standard errors of 95 % are 3.3 %."""
    rng = np.random.default_rng(21)
    metered = np.array([2.0, 5.0, 20.0, 60.0, 200.0])
    truth = np.array([LAWS[form].lengthened_s(t) for t in metered])
    hits = []
    for _ in range(400):
        noise = 10 ** (0.02 * rng.standard_normal(5))
        # The forms fit different left sides; the noise is put where each takes its errors to be.
        noisy = {"modified": (truth + 1) * noise - 1, "additive": metered + (truth - metered) * noise}
        law = fit_reciprocity(form, metered, noisy.get(form, truth * noise))
        time = corrected_time(law, 40.0)
        hits.append(time.low <= LAWS[form].lengthened_s(40.0) <= time.high)
    assert 0.917 <= np.mean(hits) <= 0.983


def test_tests_that_show_no_failure_give_no_law():
    assert fit_reciprocity("power", [10, 100], [9.0, 80.0]) is None
    assert fit_reciprocity("power", [0.5, 1.0], [0.6, 1.2]) is None
    assert fit_reciprocity("additive", [10, 100], [9.0, 80.0]) is None


def test_a_single_test_carries_no_error():
    law = fit_reciprocity("power", [10, np.nan, -3], [20.42, 5, 5])
    assert law.exponent == pytest.approx(1.31, abs=0.0005)
    assert law.exponent_sd is None
    assert corrected_time(law, 5).low is None


@pytest.mark.parametrize(
    ("form", "exponent", "longest"),
    [("power", 0.9, 100), ("schwarzschild", 1.2, 100), ("nonsense", 1.3, 100), ("power", float("nan"), 100),
     ("power", 1.3, 0), ("power", 1.3, 1e9)],
)  # fmt: skip
def test_impossible_laws_are_refused(form, exponent, longest):
    with pytest.raises(SensitometryError):
        ReciprocityLaw(form, exponent, longest)


@pytest.mark.parametrize("bad", [0, -1, float("nan"), float("inf")])
def test_impossible_times_have_a_reason(bad):
    assert corrected_time(LAWS["power"], bad).reason in ("INVALID_INPUT", "OUTSIDE_TESTED_RANGE")
    assert exposure_loss(LAWS["power"], bad).reason in ("INVALID_INPUT", "OUTSIDE_TESTED_RANGE")


@pytest.mark.parametrize("form", ["modified", "additive"])
def test_loss_within_the_jump_at_the_threshold_counts_from_one_second(form):
    just_above = LAWS[form].lengthened_s(1 + 1e-9)
    time = (1 + just_above) / 2
    assert exposure_loss(LAWS[form], time).value == pytest.approx(np.log10(time))
