"""Brackets of patches against a reference's: the accuracy that is promised, and frames that are off.

Conditions: 11 frames a third of a stop apart by true settings; six greys of 4 to 80 % reflectance, metered on
18 %, which puts the speed point one log unit below the metered tone (-0.2 to +0.2 by speed); toes and
shoulders that are integrals of the normal distribution, gradients 0.5 to 0.8; the test film differs from the
reference by 10 % in gradient and 30 % in the toe's width; reading noise 0.015 D, rounding to 0.01, frames'
exposures off by 0.03 log exposure; six readings of the unexposed area. Nothing of this is told to the fit.
"""

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import ndtr

from curves.sensitometry.exposing.bracket_curve import analyse_bracket
from curves.sensitometry.exposing.shadow_match import match_shadows
from curves.sensitometry.measures import SensitometryError
from curves.sensitometry.speed_scale import STOP

FRAMES = np.arange(-5, 6) / 3 * STOP
GREYS = np.log10(np.array([0.04, 0.07, 0.13, 0.23, 0.42, 0.80]) / 0.18)


def ramp(u):
    """Integral of the normal distribution function."""
    return u * ndtr(u) + np.exp(-0.5 * u * u) / np.sqrt(2 * np.pi)


def film(gradient, toe, speed_point):
    """Net density with 0.10 at the speed point and a shoulder beyond the bracket."""

    def shape(x):
        return gradient * (toe * ramp(x / toe) - 0.4 * ramp((x - 2.6) / 0.4))

    foot = brentq(lambda x: shape(x) - 0.10, -3, 3)
    return lambda x: shape(np.asarray(x) - speed_point + foot)


def true_shift(test, reference):
    """Mean horizontal distance of the true curves over net 0.06 to 0.40, by root finding [stop]."""

    def place(net, level):
        return brentq(lambda x: float(net(x)) - level, -5, 5)

    levels = np.linspace(0.06, 0.40, 35)
    return np.mean([place(reference, level) - place(test, level) for level in levels]) / STOP


def expose(net, base, rng, jitter=0.03, sd=0.015, unexposed=6):
    """Densities of the frames and the unexposed area, and the frames' true errors [log10 exposure]."""
    errors = jitter * rng.standard_normal(FRAMES.size)
    density = base + net(FRAMES[:, None] + GREYS + errors[:, None])
    density = np.round(density + sd * rng.standard_normal(density.shape), 2)
    return density, np.round(base + sd * rng.standard_normal(unexposed), 2), errors


def study(trials, jitter, seed):
    """Errors of the matched speed [stop], whether its interval held, and the same for single frames."""
    rng = np.random.default_rng(seed)
    errors, held, frames_held = [], [], []
    for _ in range(trials):
        gradient, toe = rng.uniform(0.5, 0.8), rng.uniform(0.15, 0.35)
        reference = film(gradient, toe, -1.0)
        test = film(
            gradient * (1 + 0.10 * rng.standard_normal()),
            toe * np.exp(0.30 * rng.standard_normal()),
            -1.0 - rng.uniform(-0.2, 0.2),
        )
        base = rng.uniform(0.1, 0.35)
        found = []
        for net, own_base in ((test, base), (reference, base + 0.03)):
            density, unexposed, true_errors = expose(net, own_base, rng, jitter)
            one = analyse_bracket(FRAMES, GREYS, density, unexposed)
            truth = (true_errors - true_errors.mean()) / STOP
            frames_held += [m.low <= t <= m.high for m, t in zip(one.frame_errors, truth, strict=True)]
            found.append(one)
        speed = match_shadows(
            found[0].curve,
            found[1].curve,
            exposure_sd=found[0].exposure_sd,
            reference_exposure_sd=found[1].exposure_sd,
        )
        truth = true_shift(test, reference)
        errors.append(speed.value - truth)
        held.append(speed.low <= truth <= speed.high)
    return np.array(errors), np.array(held), np.array(frames_held)


def test_matched_speed_is_accurate():
    """A spot check of 10; the root mean square of so few may be 50 % above that of many (0.08)."""
    errors, held, frames_held = study(10, 0.03, seed=5)
    assert np.sqrt(np.mean(errors**2)) <= 0.115
    assert np.mean(held) >= 0.7
    assert np.mean(frames_held) >= 0.9


@pytest.mark.full
@pytest.mark.parametrize("jitter", [0.0, 0.015, 0.03])
def test_matched_speed_keeps_its_promise(jitter):
    """At most 0.09 stop, and 92 to 98 % of intervals hold the truth; 400 brackets and references."""
    errors, held, frames_held = study(400, jitter, seed=101)
    print(f"jitter {jitter}: rmse {np.sqrt(np.mean(errors**2)):.3f} stop, held {np.mean(held):.3f}")
    assert np.sqrt(np.mean(errors**2)) <= 0.09
    assert abs(np.mean(errors)) <= 0.03
    assert 0.92 <= np.mean(held) <= 0.98
    if jitter:
        assert 0.92 <= np.mean(frames_held) <= 0.98


def test_a_shutter_that_is_off_is_found_and_does_not_move_the_curve():
    rng = np.random.default_rng(7)
    net = film(0.65, 0.25, -1.0)
    density, unexposed, _ = expose(net, 0.2, rng, jitter=0.01)
    sound = analyse_bracket(FRAMES, GREYS, density, unexposed)
    off = density.copy()
    off[4] = np.round(0.2 + net(FRAMES[4] + GREYS - 0.15), 2)
    found = analyse_bracket(FRAMES, GREYS, off, unexposed)
    assert found.frame_errors[4].value == pytest.approx(-0.15 / STOP, abs=0.15)
    assert found.frame_errors[4].high < 0
    others = [abs(error.value) for k, error in enumerate(found.frame_errors) if k != 4]
    assert max(others) < 0.2
    # Half a stop in one frame of eleven would move their mean by 0.05 stop.
    assert abs(match_shadows(found.curve, sound.curve).value) < 0.08


def test_exact_settings_show_no_error():
    rng = np.random.default_rng(8)
    density, unexposed, _ = expose(film(0.65, 0.25, -1.0), 0.2, rng, jitter=0.0)
    found = analyse_bracket(FRAMES, GREYS, density, unexposed)
    assert found.setting_sd < 0.015
    assert all(error.low <= 0 <= error.high for error in found.frame_errors)


def test_unread_patches_are_left_out():
    rng = np.random.default_rng(9)
    density, unexposed, _ = expose(film(0.65, 0.25, -1.0), 0.2, rng)
    density[0, :] = np.nan
    density[3, 2] = np.nan
    found = analyse_bracket(FRAMES, GREYS, density, unexposed)
    assert found.curve is not None
    assert found.frame_errors[0].value == 0
    # A frame without readings keeps the whole uncertainty of a setting.
    assert found.frame_errors[0].standard_error * STOP == pytest.approx(found.setting_sd)


def test_too_little_gives_reasons():
    density = np.full((2, 6), 0.5)
    few = analyse_bracket(FRAMES[:2], GREYS, density, [0.2])
    assert {error.reason for error in few.frame_errors} == {"TOO_FEW_FRAMES"}
    empty = analyse_bracket(FRAMES, GREYS, np.full((11, 6), np.nan), [0.2])
    assert empty.curve is None
    assert {error.reason for error in empty.frame_errors} == {"TOO_FEW_POINTS"}


def test_without_unexposed_readings_there_is_no_base_to_match_by():
    rng = np.random.default_rng(10)
    density, unexposed, _ = expose(film(0.65, 0.25, -1.0), 0.2, rng)
    found = analyse_bracket(FRAMES, GREYS, density, [])
    other = analyse_bracket(FRAMES, GREYS, density, unexposed)
    assert match_shadows(found.curve, other.curve).reason == "NO_BASE_FOG"


def test_mistakes_are_refused():
    with pytest.raises(SensitometryError):
        analyse_bracket(FRAMES, GREYS, np.zeros((6, 11)), [0.2])
    with pytest.raises(SensitometryError):
        analyse_bracket(FRAMES, GREYS, np.zeros((11, 6)), [0.2], setting_sd=-0.1)
