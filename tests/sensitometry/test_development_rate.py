"""The first-order law: recovery of its constants, intervals, and where it is withheld."""

import numpy as np
import pytest

from curves.sensitometry.developing.development import DevelopmentFamily
from curves.sensitometry.developing.development_rate import fit_time_contrast
from curves.sensitometry.measures import SensitometryError

TIMES = np.array([5.0, 7.0, 10.0, 14.0])


def first_order(limit, rate, times=TIMES, induction=0.0):
    return limit * (1 - np.exp(-rate * (times - induction)))


@pytest.mark.parametrize("induction", [0.0, 0.5])
@pytest.mark.parametrize(("limit", "rate"), [(0.8, 0.15), (1.0, 0.1), (1.3, 0.05)])
def test_exact_contrasts_give_the_constants_back(limit, rate, induction):
    """Least squares ends at relative 1e-14 in the cost, so 1e-6 in the constants is ample."""
    family = DevelopmentFamily.of(TIMES, first_order(limit, rate, induction=induction), 0.01)
    law = fit_time_contrast(family, induction)
    assert law.contrast_limit.value == pytest.approx(limit, rel=1e-6)
    assert law.rate_per_min.value == pytest.approx(rate, rel=1e-6)
    assert law.contrast_at(8.0).value == pytest.approx(
        limit * (1 - np.exp(-rate * (8 - induction))), rel=1e-6
    )
    assert law.time_for(law.contrast_at(8.0).value).value == pytest.approx(8.0, rel=1e-6)


@pytest.mark.parametrize("sd", [0.005, 0.01, 0.02])
def test_intervals_hold_the_truth(sd):
    """250 families: three standard errors of 95 % are 4.1 %."""
    rng = np.random.default_rng(29)
    hits = {"limit": [], "rate": [], "time": [], "contrast": []}
    for _ in range(250):
        limit, rate = rng.uniform(0.8, 1.2), rng.uniform(0.06, 0.15)
        noisy = first_order(limit, rate) + sd * rng.standard_normal(TIMES.size)
        law = fit_time_contrast(DevelopmentFamily.of(TIMES, noisy, sd))
        if not law.is_supported:
            continue
        checks = {
            "limit": (law.contrast_limit, limit),
            "rate": (law.rate_per_min, rate),
            "time": (law.time_for(limit * (1 - np.exp(-rate * 9.0))), 9.0),
            "contrast": (law.contrast_at(9.0), limit * (1 - np.exp(-rate * 9.0))),
        }
        for name, (measure, truth) in checks.items():
            low = -np.inf if measure.low is None else measure.low
            high = np.inf if measure.high is None else measure.high
            hits[name].append(low <= truth <= high)
    for name, found in hits.items():
        assert len(found) > 230, name
        assert 0.909 <= np.mean(found) <= 0.991, name


def test_an_unbounded_limit_is_left_open():
    """Nearly straight growth with noise: some limit is found, but none can be excluded from above."""
    law = fit_time_contrast(DevelopmentFamily.of([6, 8, 11], [0.40, 0.52, 0.70], 0.03))
    assert law.is_supported
    assert law.contrast_limit.is_lower_bound
    assert "open" in law.contrast_limit.note


@pytest.mark.parametrize(
    ("times", "contrasts", "reason"),
    [([6, 12], [0.4, 0.8], "NO_SATURATION"), ([6, 12], [0.4, 0.9], "NO_SATURATION"),
     ([6], [0.4], "TOO_FEW_TIMES"), ([], [], "TOO_FEW_TIMES"), ([6, 8, 11], [0.6, 0.6, 0.6], "NO_RISE"),
     ([6, 8, 11], [0.9, 0.7, 0.5], "NO_RISE"), ([6, 8], [-0.5, -0.6], "NO_RISE")],
)  # fmt: skip
def test_withheld(times, contrasts, reason):
    law = fit_time_contrast(DevelopmentFamily.of(times, contrasts, 0.01))
    assert law.contrast_limit.reason == law.rate_per_min.reason == reason
    assert law.time_for(0.5).reason == law.contrast_at(7.0).reason == reason


def test_nothing_is_read_outside_the_tested_times():
    law = fit_time_contrast(DevelopmentFamily.of(TIMES, first_order(1.0, 0.1), 0.01))
    assert law.contrast_at(4.9).reason == law.contrast_at(14.1).reason == "OUTSIDE_TESTED_RANGE"
    assert law.time_for(float(first_order(1.0, 0.1, 15.0))).reason == "OUTSIDE_TESTED_RANGE"
    assert law.time_for(float("nan")).reason == "INVALID_INPUT"
    assert law.contrast_at(float("nan")).reason == "INVALID_INPUT"


def test_chi_square_tells_a_film_that_the_law_does_not_fit():
    wavy = first_order(1.0, 0.1) + np.array([0.1, -0.1, 0.1, -0.1])
    law = fit_time_contrast(DevelopmentFamily.of(TIMES, wavy, 0.01))
    assert law.degrees == 2
    assert law.chi_square > 100


def test_impossible_induction_is_refused():
    with pytest.raises(SensitometryError):
        fit_time_contrast(DevelopmentFamily.of(TIMES, first_order(1.0, 0.1), 0.01), -1.0)
