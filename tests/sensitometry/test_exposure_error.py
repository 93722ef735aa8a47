"""The exposure's own uncertainty: in the absolute speeds, in nothing else, and never shrunk by rolls."""

import numpy as np
import pytest

from curves.sensitometry import (
    Readings,
    SensitometryError,
    analyse_readings,
    compare_with_reference,
    pool_analyses,
)
from curves.sensitometry.measuring.exposure_error import with_exposure_error

ABSOLUTE = ("exposure_index", "iso_speed_exact", "delta_x_speed", "box_difference_stops")
SD = 0.05


def analysed(seed=3, exposure="absolute"):
    """A soft-toe roll (closed form, gradient 0.65) read with noise 0.01."""
    rng = np.random.default_rng(seed)
    x = np.repeat(-3.2 + 0.15 * np.arange(21), 2)
    density = 0.25 + 0.13 * np.logaddexp(0.0, (x + 2.2) / 0.2) + rng.normal(0, 0.01, x.size)
    return analyse_readings(
        Readings(x, density, 0.25 + rng.normal(0, 0.01, 3), exposure=exposure), box_speed=100
    )


def log_halves(measure):
    value, low, high = (np.log10(each) for each in (measure.value, measure.low, measure.high))
    return value - low, high - value


def test_the_error_adds_in_quadrature_to_every_absolute_speed():
    before = analysed()
    after = with_exposure_error(before, SD)
    for name in ABSOLUTE[:3]:
        for old, new in zip(log_halves(before.measures[name]), log_halves(after.measures[name]), strict=True):
            # Rounding of the stored numbers to six digits allows the tolerance.
            assert new == pytest.approx(np.hypot(old, 1.959964 * SD), abs=1e-4), name
    box = "box_difference_stops"
    old, new = before.measures[box], after.measures[box]
    assert new.high - new.value == pytest.approx(
        np.hypot(old.high - old.value, 1.959964 * SD / np.log10(2)), abs=1e-3
    )
    assert after.measures["iso_speed"].low <= before.measures["iso_speed"].low
    assert "own uncertainty included" in after.measures["exposure_index"].note


def test_values_and_all_other_measures_stay():
    before, after = analysed(), with_exposure_error(analysed(), SD)
    for name, measure in before.measures.items():
        assert after.measures[name].value == measure.value, name
        if name not in (*ABSOLUTE, "iso_speed", "iso_degree"):
            assert after.measures[name] == measure, name


def test_more_rolls_do_not_make_the_lamp_better_known():
    pooled = with_exposure_error(pool_analyses([analysed(seed) for seed in range(6)]), SD)
    for half in log_halves(pooled.measures["exposure_index"]):
        assert half > 1.95 * SD


def test_a_comparison_is_the_same_with_and_without():
    one, other = analysed(1), analysed(2)
    plain = compare_with_reference(one, other).to_dict()
    assert (
        compare_with_reference(with_exposure_error(one, SD), with_exposure_error(other, SD)).to_dict()
        == plain
    )


def test_relative_exposure_and_no_error_change_nothing():
    relative = analysed(exposure="relative")
    assert with_exposure_error(relative, SD) is relative
    absolute = analysed()
    assert with_exposure_error(absolute, 0.0) is absolute


@pytest.mark.parametrize("sd", [-0.1, float("nan"), float("inf")])
def test_a_senseless_uncertainty_is_refused(sd):
    with pytest.raises(SensitometryError):
        with_exposure_error(analysed(), sd)
