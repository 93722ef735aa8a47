"""Matching whole curves in the shadows: known shifts, correlated errors, and what is withheld."""

from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curves.sensitometry.exposing.shadow_match import match_shadows
from curves.sensitometry.measures import SensitometryError
from curves.sensitometry.sampled_curve import SampledCurve
from curves.sensitometry.speed_scale import STOP

X = np.linspace(-2.5, 1.0, 141)


def curve(shift=0.0, base=0.25, gradient=0.6, x=X, modes=None, base_modes=None):
    net = gradient * 0.15 * np.logaddexp(0, (x + shift + 1.0) / 0.15)
    return SampledCurve.of(
        SimpleNamespace(log_exposure=x, density=base + net, modes=modes, base=base, base_modes=base_modes)
    )


@settings(deadline=None, max_examples=60)  # other work may share the machine
@given(st.floats(-2, 2), st.floats(0.05, 0.4))
def test_a_known_shift_is_found_whatever_the_bases(stops, base):
    """Cubic pieces 0.025 apart."""
    assert match_shadows(curve(stops * STOP, base), curve()).value == pytest.approx(stops, abs=1e-4)


def test_exchange_turns_the_sign():
    one, other = curve(0.2, gradient=0.7), curve()
    assert match_shadows(one, other).value == pytest.approx(-match_shadows(other, one).value)


def test_an_error_of_base_and_curve_together_does_not_count():
    """All densities up by one amount, base included, leaves net densities as they are."""
    alike = {"modes": np.full((1, X.size), 0.02), "base_modes": np.array([0.02])}
    shaky = match_shadows(curve(**alike), curve(modes=np.full((1, X.size), 1e-6)))
    assert shaky.standard_error < 1e-4
    apart = match_shadows(curve(modes=np.full((1, X.size), 0.02)), curve())
    # Mean of 1 / gradient over the shadows, by differences of the curve itself.
    levels = np.linspace(0.06, 0.40, 35)
    places = curve().exposure_at(0.25 + levels)
    slope = 0.6 / (1 + np.exp(-(places + 1.0) / 0.15))
    assert apart.standard_error * STOP == pytest.approx(0.02 * np.mean(1 / slope), rel=1e-3)


def test_errors_of_both_rolls_exposures_are_added():
    found = match_shadows(curve(), curve(), exposure_sd=0.03, reference_exposure_sd=0.04)
    assert found.standard_error * STOP == pytest.approx(0.05, rel=1e-6)


def test_a_curve_that_starts_a_little_late_is_matched_over_what_there_is():
    late = curve(x=X[X > -0.95])
    found = match_shadows(late, curve())
    lowest = late.density[0] - late.base
    assert 0.06 < lowest < 0.16
    assert found.value == pytest.approx(0, abs=1e-4)
    assert f"from {lowest:.2f}" in found.note


def test_withheld():
    assert match_shadows(curve(x=X[X > -0.5]), curve()).reason == "NO_OVERLAP"
    assert match_shadows(curve(), curve(x=X[X < -1.0])).reason == "NO_OVERLAP"
    bare = SampledCurve.through(X, curve().density)
    assert match_shadows(bare, curve()).reason == "NO_BASE_FOG"
    stepped = SimpleNamespace(log_exposure=np.arange(5.0), density=[0.2, 0.4, 0.4, 0.4001, 1.0], base=0.2)
    assert match_shadows(SampledCurve.of(stepped), curve()).reason == "NO_RISE"


def test_without_errors_there_is_no_interval():
    assert match_shadows(curve(), curve()).low is None


@pytest.mark.parametrize(
    "bad", [{"shadow_range": (0.4, 0.06)}, {"shadow_range": (0.0, 0.4)}, {"exposure_sd": np.nan}]
)
def test_mistakes_are_refused(bad):
    with pytest.raises(SensitometryError):
        match_shadows(curve(), curve(), **bad)
