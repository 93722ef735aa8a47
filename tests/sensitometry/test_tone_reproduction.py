"""Tone reproduction: each quadrant by its own function, bands, and tones outside what was measured."""

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scipy.optimize import isotonic_regression

from curves.sensitometry.measures import SensitometryError
from curves.sensitometry.printing.tone_reproduction import (
    flare_exposure,
    flare_for_range,
    print_log_exposure_for_tone,
    reproduce_tones,
)
from curves.sensitometry.sampled_curve import SampledCurve

X = np.linspace(-3.5, 1.0, 46)
TONES = np.linspace(-2.1, 0.0, 22)


def film_density(x):
    return 0.25 + 0.6 * 0.15 * np.logaddexp(0, (np.asarray(x) + 2.6) / 0.15)


def paper_density(x):
    return 0.06 + 2.0 / (1 + np.exp(-4 * np.asarray(x)))


FILM = SampledCurve.through(X, film_density(X), 0.01)
PAPER = SampledCurve.through(X, paper_density(X), 0.01)
SETTINGS = {"highlight_log_exposure": -0.4, "print_log_exposure": 0.95, "flare": 0.01, "callier_factor": 1.1}


def test_each_quadrant_follows_its_own_function():
    """Cubic pieces 0.1 apart miss these curves by less than 0.002."""
    tones = reproduce_tones(FILM, PAPER, TONES, **SETTINGS)
    camera = -0.4 + np.log10((10**TONES + 0.01) / 1.01)
    assert tones.camera_log_exposure == pytest.approx(camera)
    assert tones.negative_density == pytest.approx(film_density(camera), abs=0.002)
    assert tones.paper_log_exposure == pytest.approx(0.95 - 1.1 * tones.negative_density)
    assert tones.print_density == pytest.approx(paper_density(tones.paper_log_exposure), abs=0.002)
    assert tones.reasons == (None,) * TONES.size


def test_separation_is_the_slope_of_the_print():
    fine = np.linspace(-2.1, 0.0, 2101)
    tones = reproduce_tones(FILM, PAPER, fine, **SETTINGS)
    slope = -np.gradient(tones.print_density, fine)
    # Central differences 0.001 apart, away from the ends where numpy's are one-sided.
    assert tones.separation[2:-2] == pytest.approx(slope[2:-2], abs=0.005)


def test_band_holds_the_truth():
    """300 noisy pairs of curves at 22 tones, which are correlated: 92 to 98 % are asked of the mean."""
    rng = np.random.default_rng(47)
    truth = reproduce_tones(FILM, PAPER, TONES, **SETTINGS).print_density
    held = []
    for _ in range(300):
        noisy = (
            SampledCurve.through(X, isotonic_regression(f(X) + 0.005 * rng.standard_normal(X.size)).x, 0.005)
            for f in (film_density, paper_density)
        )
        tones = reproduce_tones(*noisy, TONES, **SETTINGS)
        measured = np.isfinite(tones.print_density)
        held.append(np.mean(((tones.low <= truth) & (truth <= tones.high))[measured]))
    assert 0.90 <= np.mean(held) <= 0.98


@settings(deadline=None, max_examples=40)  # other work may share the machine
@given(st.floats(-0.3, 0.3))
def test_more_exposure_in_camera_and_paper_alike_shift_the_tones(shift):
    """On a straight film an exposure shift is undone by the paper's exposure: nothing else changes."""
    straight = SampledCurve.through(X, 0.2 + 0.6 * (X + 3.5))
    plain = reproduce_tones(straight, PAPER, TONES, highlight_log_exposure=-0.4, print_log_exposure=1.5)
    moved = reproduce_tones(
        straight, PAPER, TONES, highlight_log_exposure=-0.4 + shift, print_log_exposure=1.5 + 0.6 * shift
    )
    assert moved.print_density == pytest.approx(plain.print_density, abs=1e-6)


def test_tones_outside_the_film_have_their_reason():
    short = SampledCurve.through(X[(X > -2.0) & (X < -0.6)], film_density(X[(X > -2.0) & (X < -0.6)]))
    tones = reproduce_tones(short, PAPER, TONES, **SETTINGS)
    assert tones.reasons[0] == "BELOW_RANGE"
    assert tones.reasons[-1] == "NOT_REACHED"
    missing = np.array([reason is not None for reason in tones.reasons])
    assert np.isnan(tones.print_density[missing]).all()
    assert np.isfinite(tones.print_density[~missing]).all()


def test_a_paper_cut_short_is_not_prolonged_but_a_flat_end_stays_white():
    steep = SampledCurve.through(X[(X > -0.3) & (X < 0.3)], paper_density(X[(X > -0.3) & (X < 0.3)]))
    tones = reproduce_tones(FILM, steep, TONES, **SETTINGS)
    assert "OUT_OF_PAPER_RANGE" in tones.reasons
    flat = SampledCurve.through(X[X > -1.9], paper_density(X[X > -1.9]))
    light = reproduce_tones(FILM, flat, TONES, **{**SETTINGS, "print_log_exposure": -1.0})
    assert light.reasons == (None,) * TONES.size
    assert light.print_density[-1] == pytest.approx(flat.density[0])
    assert light.separation[-1] == 0


def test_print_exposure_that_holds_a_tone():
    camera = -0.4 + float(flare_exposure(-1.0, 0.01))
    exposure = print_log_exposure_for_tone(FILM, PAPER, 0.75, camera, 1.1).value
    tones = reproduce_tones(FILM, PAPER, [-1.0, 0.0], **{**SETTINGS, "print_log_exposure": exposure})
    assert tones.print_density[0] == pytest.approx(0.75, abs=1e-6)


def test_print_exposure_withheld():
    assert print_log_exposure_for_tone(FILM, PAPER, 3.0, -1.0).reason == "OUT_OF_PAPER_RANGE"
    assert print_log_exposure_for_tone(FILM, PAPER, 0.75, -9.0).reason == "BELOW_RANGE"
    assert print_log_exposure_for_tone(FILM, PAPER, 0.75, 9.0).reason == "NOT_REACHED"
    assert print_log_exposure_for_tone(FILM, PAPER, 0.75, float("nan")).reason == "INVALID_INPUT"


@settings(deadline=None, max_examples=60)  # other work may share the machine
@given(st.floats(0.3, 3.0), st.floats(0.05, 1.0))
@example(1.958984375, 1.0)  # no flare, and a rounding error that made it negative
def test_flare_for_a_range_gives_that_range(subject, share):
    image = subject * share
    flare = flare_for_range(subject, image).value
    assert float(-flare_exposure(-subject, flare)) == pytest.approx(image, abs=1e-9)


@pytest.mark.parametrize("ranges", [(2.0, 2.1), (2.0, 0.0), (float("nan"), 1.0), (50.0, 1.0)])
def test_impossible_ranges(ranges):
    assert flare_for_range(*ranges).reason == "INVALID_INPUT"


@pytest.mark.parametrize("tones", [[], [0.0], [-1.0, 0.5], [-1.0, float("nan")], [-20.0, 0.0]])
def test_impossible_tones_are_refused(tones):
    with pytest.raises(SensitometryError):
        reproduce_tones(FILM, PAPER, tones, **SETTINGS)


@pytest.mark.parametrize("flare", [-0.1, float("nan")])
def test_impossible_flare_is_refused(flare):
    with pytest.raises(SensitometryError):
        reproduce_tones(FILM, PAPER, TONES, **{**SETTINGS, "flare": flare})
