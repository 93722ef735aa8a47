"""A curve as arrays: values, slopes, the inverse, and the errors of each."""

from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curves.sensitometry.measures import SensitometryError
from curves.sensitometry.sampled_curve import SampledCurve

X = np.linspace(-3.0, 0.0, 61)


def soft_toe(x):
    return 0.25 + 0.70 * 0.20 * np.logaddexp(0, (np.asarray(x) + 2.0) / 0.20)


def soft_toe_slope(x):
    return 0.70 / (1 + np.exp(-(np.asarray(x) + 2.0) / 0.20))


def test_algebraic_curve_is_followed_between_its_points():
    """Cubic pieces 0.05 apart on a toe of 0.2: errors of the order of 0.05^4, far below 1e-4."""
    curve = SampledCurve.of(SimpleNamespace(log_exposure=X, density=soft_toe(X), gradient=soft_toe_slope(X)))
    at = np.linspace(-2.9, -0.1, 97)
    assert curve.density_at(at) == pytest.approx(soft_toe(at), abs=1e-5)
    assert curve.gradient_at(at) == pytest.approx(soft_toe_slope(at), abs=2e-4)
    assert curve.exposure_at(soft_toe(at)) == pytest.approx(at, abs=2e-3)
    steep = at > -2.2
    assert curve.exposure_at(soft_toe(at))[steep] == pytest.approx(at[steep], abs=1e-4)


@settings(deadline=None, max_examples=60)  # other work may share the machine
@given(st.floats(0.0, 1.0))
def test_inverse_and_curve_undo_each_other(share):
    curve = SampledCurve.through(X, soft_toe(X))
    density = curve.density[0] + share * (curve.density[-1] - curve.density[0])
    assert float(curve.density_at(curve.exposure_at(density))) == pytest.approx(density, abs=1e-5)


def test_nothing_is_read_outside_the_measured_range():
    curve = SampledCurve.through(X, soft_toe(X))
    assert np.isnan(curve.density_at([-3.1, 0.1])).all()
    assert np.isnan(curve.exposure_at([0.2, 3.0])).all()
    assert curve.reason_at(0.2) == "BELOW_RANGE"
    assert curve.reason_at(3.0) == "NOT_REACHED"
    assert curve.reason_at(float("nan")) == "INVALID_INPUT"
    assert curve.reason_at(1.0) is None


def test_a_curve_that_falls_is_cut_at_its_maximum():
    curve = SampledCurve.through([0, 1, 2, 3, 4], [0.1, 0.5, 1.5, 1.2, 0.8])
    assert curve.log_exposure[-1] == 2
    assert curve.reason_at(1.6) == "NOT_REACHED"


def test_the_last_rise_counts_where_a_density_is_met_twice():
    curve = SampledCurve.through([0, 1, 2, 3, 4], [0.1, 0.4, 0.2, 0.6, 1.0])
    assert 2.0 < float(curve.exposure_at(0.3)) < 3.0


def test_error_of_a_density_between_two_points():
    """Halfway between independent points the error is that of their mean: sd / sqrt 2."""
    curve = SampledCurve.through([0.0, 1.0, 2.0], [0.0, 1.0, 2.0], 0.02)
    assert np.linalg.norm(curve.error_at(0.5)) == pytest.approx(0.02 / np.sqrt(2))
    assert np.linalg.norm(curve.error_at([0.0, 1.0])[:, 1]) == pytest.approx(0.02)


def test_bad_points_are_left_out_and_hopeless_ones_refused():
    curve = SampledCurve.through([2.0, np.nan, 0.0, 1.0, 1.0], [2.0, 1.0, 0.0, 1.0, 1.0])
    assert curve.log_exposure.tolist() == [0.0, 1.0, 2.0]
    with pytest.raises(SensitometryError, match="two different exposures"):
        SampledCurve.through([1.0, 1.0], [0.2, 0.3])
    with pytest.raises(SensitometryError, match="as long as"):
        SampledCurve.through([1.0, 2.0], [0.2, 0.3, 0.4])


@settings(deadline=None, max_examples=60)  # other work may share the machine
@given(st.floats(-5, 5))
def test_shifting_exposure_shifts_the_inverse_and_nothing_else(shift):
    curve, moved = SampledCurve.through(X, soft_toe(X)), SampledCurve.through(X + shift, soft_toe(X))
    levels = np.linspace(0.3, 1.5, 20)
    assert moved.exposure_at(levels) == pytest.approx(curve.exposure_at(levels) + shift, abs=1e-6)
    assert moved.gradient_at(X[5:-5] + shift) == pytest.approx(curve.gradient_at(X[5:-5]), abs=1e-6)
