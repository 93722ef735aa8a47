"""Corrections of instruments in the fit: raw readings in, a corrected curve and an error that stays."""

from dataclasses import replace

import numpy as np
import pytest

from curves.sensitometry import Analysis, Readings, analyse_readings
from curves.sensitometry.agreeing.instrument_correction import Correction, corrected_density
from curves.sensitometry.analysing import analyse_many
from curves.sensitometry.comparing.pooling import pool_analyses
from curves.sensitometry.density_corrections import DensityCorrection
from curves.sensitometry.measures import Measure, SensitometryError

COVARIANCE = ((4e-5, -1e-5), (-1e-5, 9e-6))
CORRECTION = DensityCorrection("revision 1 of A", 0.03, 1.02, COVARIANCE, (0.0, 3.0))
X = np.linspace(-3.5, -0.5, 21)
TRUE = 0.25 + 0.14 * np.logaddexp(0.0, (X + 2.6) / 0.2)


def read(seed=3, repeats=1, sd=0.008, correction=CORRECTION, **options):
    """Readings of the true curve by the instrument that is off, rounded as it shows them."""
    rng = np.random.default_rng(seed)
    raw = (np.tile(TRUE, repeats) - 0.03) / 1.02
    density = np.round(raw + rng.normal(0, sd, raw.size), 2)
    base = np.round((0.25 - 0.03) / 1.02 + rng.normal(0, sd, 2 * repeats), 2)
    if correction is None:
        return Readings(np.tile(X, repeats), density, base, reading_sd=0.01, **options)
    places = {"corrected_by": [0] * density.size, "unexposed_corrected_by": [0] * base.size}
    return Readings(
        np.tile(X, repeats), density, base, reading_sd=0.01, corrections=[correction], **(places | options)
    )


def curve_sd(analysis):
    return np.sqrt((analysis.curve.modes**2).sum(axis=0))


def test_an_exact_correction_turns_the_curve_into_that_of_the_corrected_densities():
    exact = replace(CORRECTION, covariance=((0.0, 0.0), (0.0, 0.0)))
    plain, corrected = analyse_readings(read(correction=None)), analyse_readings(read(correction=exact))
    # The priors of the form see the noise of 0.01 D, so the fits agree to a small part of it.
    assert corrected.curve.density == pytest.approx(0.03 + 1.02 * plain.curve.density, abs=5e-4)
    assert corrected.correction_share == 0.0
    assert [flag.code for flag in corrected.flags if "CORRECT" in flag.code] == ["CORRECTED"]
    assert corrected.corrected_by == ("revision 1 of A",)


def test_the_error_is_that_of_the_reading_noise_and_of_the_line_together():
    plain, corrected = analyse_readings(read(correction=None)), analyse_readings(read())
    raw = np.stack([np.ones_like(plain.curve.density), plain.curve.density])
    line = np.einsum("ig,ij,jg->g", raw, np.array(COVARIANCE), raw)
    expected = np.sqrt((1.02 * curve_sd(plain)) ** 2 + line)
    assert curve_sd(corrected) == pytest.approx(expected, rel=0.02)
    assert corrected.measures["base_plus_fog"].standard_error == pytest.approx(
        np.hypot(
            plain.measures["base_plus_fog"].standard_error, np.sqrt(4e-5 - 2e-5 * 0.22 + 9e-6 * 0.22**2)
        ),
        rel=0.03,
    )


def test_what_all_readings_share_does_not_average_away_over_repetitions():
    offset_alone = replace(CORRECTION, covariance=((1e-4, 0.0), (0.0, 0.0)))
    sds = [curve_sd(analyse_readings(read(repeats=n, correction=offset_alone))) for n in (1, 16)]
    # The noise of 16 repetitions is a quarter of one's; the offset's 0.01 D stays.
    assert sds[1] == pytest.approx(0.01, rel=0.12)
    assert (sds[1] < sds[0]).all()
    analysis = analyse_readings(read(repeats=16, correction=offset_alone))
    assert analysis.measures["base_plus_fog"].standard_error > 0.0099
    # An error of the zero alone leaves what is counted from base plus fog as well known as before.
    assert analysis.correction_share < 0.02


def test_an_instrument_that_read_half_of_the_steps_moves_these_alone():
    shared = replace(CORRECTION, offset=0.0, slope=1.0, covariance=((1e-4, 0.0), (0.0, 0.0)))
    places = np.where(X < -2.0, -1, 0)
    readings = read(repeats=1, correction=shared, corrected_by=places, unexposed_corrected_by=[-1, -1])
    both = analyse_readings(read(correction=shared))
    half = analyse_readings(readings)
    contrast = [each.measures["average_gradient_150"].standard_error for each in (both, half)]
    assert contrast[1] > 1.2 * contrast[0]
    assert curve_sd(half)[0] < 0.75 * curve_sd(both)[0]


def test_a_roll_comes_out_the_same_beside_others_and_from_its_document():
    alone = analyse_readings(read())
    among = analyse_many([read(correction=None), read(), read(seed=5, correction=None)])
    assert among[1].to_dict() == alone.to_dict()
    assert among[0].to_dict() == analyse_readings(read(correction=None)).to_dict()
    assert Analysis.from_dict(alone.to_dict()).to_dict() == alone.to_dict()
    assert "corrected_by" not in among[0].to_dict()


def test_readings_beyond_what_was_tested_are_left_out_and_told():
    narrow = replace(CORRECTION, tested=(0.0, 1.2))
    analysis = analyse_readings(read(correction=narrow))
    flag = next(flag for flag in analysis.flags if flag.code == "BEYOND_CORRECTION")
    assert "0.00 to 1.20 D" in flag.text
    assert analysis.points.density.max() < 0.03 + 1.02 * 1.21
    without_base = replace(CORRECTION, tested=(0.5, 3.0))
    assert analyse_readings(read(correction=without_base)).measures["base_plus_fog"].reason == "NO_BASE_FOG"


def test_pooled_rolls_keep_what_their_corrections_leave_open():
    offset_alone = replace(CORRECTION, covariance=((4e-4, 0.0), (0.0, 0.0)))
    rolls = [analyse_readings(read(seed=seed, correction=offset_alone)) for seed in range(8)]
    plain = [analyse_readings(read(seed=seed, correction=None)) for seed in range(8)]
    pooled, without = pool_analyses(rolls), pool_analyses(plain)
    assert pooled.measures["base_plus_fog"].standard_error > 0.02
    assert without.measures["base_plus_fog"].standard_error < 0.01
    assert np.sqrt((pooled.curve.base_modes**2).sum()) > 0.0195
    assert "8 of 8 rolls" in next(flag.text for flag in pooled.flags if flag.code == "CORRECTED")
    assert pooled.corrected_by == ("revision 1 of A",)


def test_it_says_the_same_as_the_corrected_density_of_one_reading():
    line = Correction(
        Measure("correction_offset", 0.03, unit="D"), Measure("correction_slope", 1.02),
        COVARIANCE, (0.0, 3.0), 21, None, None, "york",
    )  # fmt: skip
    raw = np.array([0.1, 0.9, 2.4])
    for density, errors in zip(raw, CORRECTION.errors(raw).T, strict=True):
        single = corrected_density(line, density)
        assert single.value == pytest.approx(0.03 + 1.02 * density)
        assert single.standard_error == pytest.approx(np.linalg.norm(errors), rel=1e-4)


@pytest.mark.parametrize(
    "wrong",
    [
        {"slope": 0.0},
        {"offset": np.nan},
        {"tested": (2.0, 1.0)},
        {"covariance": ((np.inf, 0.0), (0.0, 0.0))},
    ],
)
def test_a_senseless_correction_is_refused(wrong):
    with pytest.raises(SensitometryError, match="finite numbers"):
        replace(CORRECTION, **wrong)


def test_a_reading_that_names_no_given_correction_is_refused():
    with pytest.raises(SensitometryError, match="not given"):
        Readings([0.0, 1.0], [0.1, 0.5], corrected_by=[0, -1])
    with pytest.raises(SensitometryError, match="Say of each"):
        Readings([0.0, 1.0], [0.1, 0.5], corrections=[CORRECTION], corrected_by=[0])
