"""Calibration against scanners of known response."""

import datetime
import json
from dataclasses import replace

import numpy as np
import pytest

from scans.imaging.calibrate import Calibration, ScannerSetup, StepLevels, calibrate, drift_between
from scans.imaging.calibrate_response import fit_response
from scans.imaging.calibrate_store import calibration_from_dict, calibration_to_dict
from scans.imaging.measures import ImagingError
from tests.imaging.responses import CLEAR, DARK, RESPONSES, level_of, tablet_densities

DAY = datetime.date(2026, 3, 1)
SETUP = ScannerSetup("Flatbed 3", {"resolution_ppi": "4000", "bit_depth": "16"})
SEEN = np.linspace(0.1, 2.5, 241)


def steps_of(density, response="linear", *, rng=None, spread=60.0, **scanner):
    level = level_of(density, response, **scanner)
    if rng is not None:
        level = level + rng.normal(0, 1.0, level.shape)
    count = np.full(level.shape, 2000.0)
    return StepLevels(level, spread / np.sqrt(count), np.full(level.shape, spread))


def made(density=None, response="linear", *, read=None, **options):
    density = tablet_densities() if density is None else density
    read = steps_of(density, response) if read is None else read
    options = {"setup": SETUP, "made_on": DAY, "dark_level": DARK} | options
    return calibrate(read, density, **options)


@pytest.mark.parametrize("response", RESPONSES)
@pytest.mark.parametrize("count", [40, pytest.param(400, marks=pytest.mark.full)])
def test_densities_are_within_goal_of_the_truth(response, count):
    """Root mean square error over 0.1 to 2.5 D at most 0.006 with 0.01 D of certificate error a step.

    The interval is judged at 85 %: pointwise, errors along a curve go together, and 40 curves hold few
    independent ones.
    """
    rng = np.random.default_rng(20260401)
    truth, errors, covered = tablet_densities(), [], []
    level = level_of(SEEN, response)
    for _ in range(count):
        certificate = truth + rng.normal(0, 0.01, truth.size)
        read = level_of(truth, response) + rng.normal(0, 2.0, truth.size)
        fitted, _ = fit_response(read, certificate, np.full(truth.size, 0.01), DARK)
        density, standard_error = fitted.density_at(level)
        errors.append(density - SEEN)
        covered.append(np.abs(density - SEEN) < 1.96 * standard_error)
    assert np.sqrt(np.mean(np.square(errors))) <= 0.006
    assert np.mean(covered) > 0.85


@pytest.mark.parametrize(("response", "gamma"), [("linear", 1.0), ("gamma", 2.2)])
def test_a_response_of_the_form_is_recovered(response, gamma):
    """Without error in the certificate: the form's own parameters come back."""
    calibration = made(response=response)
    fitted = calibration.response
    assert fitted.gamma == pytest.approx(gamma, abs=0.005)
    # T = gain u^gamma - f with (T + f)/(1 + f) = u^gamma: the flare comes back as it was put in.
    assert fitted.flare == pytest.approx(0.001, abs=5e-5)
    assert np.nanmax(np.abs(calibration.residual)) < 5e-4
    assert calibration.flags == ()


def test_levels_scale_and_densities_do_not_care():
    """Twice the levels, dark included: the same densities at the same steps."""
    once, twice = made(), None
    read = steps_of(tablet_densities())
    doubled = StepLevels(2 * read.level, 2 * read.standard_error, 2 * read.spread)
    twice = made(read=doubled, dark_level=2 * DARK, white_level=131070)
    here, _ = once.response.density_at(read.level[1:-1])
    there, _ = twice.response.density_at(doubled.level[1:-1])
    np.testing.assert_allclose(there, here, atol=2e-5)  # the stopping rule of the fit


def test_nothing_is_read_outside_the_steps():
    calibration = made()
    density, _ = calibration.response.density_at([DARK + 1, CLEAR + 400])
    assert np.isnan(density).all()
    assert calibration.lowest_density == pytest.approx(0.05, abs=0.002)
    assert calibration.highest_density == pytest.approx(3.05, abs=0.01)


def test_average_of_noisy_pixels_has_no_bias_even_at_the_end_of_the_range():
    rng = np.random.default_rng(3)
    table = made().response.transmittance_table(65535)
    for density in (0.05, 1.0, 3.0):
        pixels = np.rint(level_of(density, "linear") + rng.normal(0, 150, 400_000)).astype(int)
        mean = table[np.clip(pixels, 0, 65535)].mean()
        # 150 levels of 60,000 over the root of the count, four times; and half a per cent for the fit.
        assert mean == pytest.approx(10.0**-density, abs=4 * 150 / 60000 / 632 + 0.005 * 10.0**-density)


def test_the_table_is_the_response_inside_its_range():
    fitted = made(response="S-curve").response
    table = fitted.transmittance_table(65535)
    levels = np.arange(int(fitted.level[0]) + 1, int(fitted.level[-1]))
    np.testing.assert_allclose(-np.log10(table[levels]), fitted.density_at(levels)[0], atol=2e-4)
    assert np.all(np.diff(table) > 0)


def test_usable_range_by_incremental_signal_to_noise():
    """Linear, 60,000 levels of light and noise of 60: log10(60000 / 60) = 3.0 D where the ratio is 1.

    The flare of 0.001 takes part of the light and changes nothing in the slope; 0.02 D is what linear
    interpolation of the logarithm between steps may err.
    """
    measure = made().usable_high
    assert measure.value == pytest.approx(3.0, abs=0.02)
    assert measure.low < measure.value < measure.high
    quiet = made(read=steps_of(tablet_densities(), spread=10.0)).usable_high
    assert quiet.high is None
    assert quiet.low == pytest.approx(3.05, abs=0.01)


def test_one_step_that_is_wrong_is_left_out_and_named():
    density = tablet_densities()
    certificate = density.copy()
    certificate[8] += 0.07  # less than a step, so that the order still holds
    calibration = made(certificate, read=steps_of(density))
    assert [flag.text[:6] for flag in calibration.flags if flag.code == "STEP_LEFT_OUT"] == ["Step 9"]
    assert np.isnan(calibration.residual[8])
    level = level_of(SEEN, "linear")
    np.testing.assert_allclose(calibration.response.density_at(level)[0], SEEN, atol=0.003)


def test_saturated_steps_are_left_out():
    read = steps_of(tablet_densities(), clear=75000.0)
    clipped = StepLevels(np.minimum(read.level, 65535), read.standard_error, read.spread)
    calibration = made(read=clipped)
    assert calibration.lowest_density > 0.05
    assert {flag.code for flag in calibration.flags} == {"STEP_LEFT_OUT"}


def test_an_unmeasured_dark_level_is_flagged():
    assert "DARK_NOT_MEASURED" in [flag.code for flag in made(dark_level=None).flags]


@pytest.mark.parametrize(
    ("density", "spoil", "code"),
    [
        (tablet_densities(9), lambda level: level, "TOO_FEW_STEPS"),
        (tablet_densities(), lambda level: level[::-1], "NON_MONOTONE"),
        (tablet_densities(), lambda level: np.full_like(level, np.nan), "TOO_FEW_STEPS"),
        (tablet_densities(), lambda level: np.full_like(level, 65535.0), "TOO_FEW_STEPS"),
    ],
)
def test_steps_that_support_no_response_are_refused(density, spoil, code):
    read = steps_of(density)
    refusal = made(density, read=StepLevels(spoil(read.level), read.standard_error, read.spread))
    assert refusal.code == code


def test_scattering_steps_are_refused():
    rng = np.random.default_rng(8)
    density = tablet_densities(11, 0.3)
    refusal = made(density + rng.uniform(-0.1, 0.1, 11), read=steps_of(density))
    assert refusal.code == "POOR_FIT"


def test_misuse_is_told():
    with pytest.raises(ImagingError, match="each step"):
        calibrate(steps_of(tablet_densities()), [0.1, 0.2], setup=SETUP, made_on=DAY)
    with pytest.raises(ImagingError, match="finite"):
        made(certificate_error=0.0)
    with pytest.raises(ImagingError, match="one level"):
        StepLevels([1.0, 2.0], [1.0], [1.0])


def test_it_is_valid_for_its_scanner_settings_and_time_only():
    calibration = made(valid_days=30)
    assert calibration.refusal_for(ScannerSetup("flatbed  3", SETUP.settings), DAY) is None
    later = DAY + datetime.timedelta(days=31)
    cases = [
        (ScannerSetup("Flatbed 4", SETUP.settings), DAY, "OTHER_SCANNER"),
        (ScannerSetup("Flatbed 3", {**SETUP.settings, "resolution_ppi": "2400"}), DAY, "OTHER_SETTINGS"),
        (ScannerSetup("Flatbed 3", {"bit_depth": "16"}), DAY, "OTHER_SETTINGS"),
        (SETUP, later, "EXPIRED"),
        (SETUP, DAY - datetime.timedelta(days=1), "EXPIRED"),
    ]
    for setup, on, code in cases:
        assert calibration.refusal_for(setup, on).code == code


def test_drift_is_what_was_put_in():
    """A lamp that gives 5 % less light, of which the flare is a part: T becomes (T + f)/0.95 - f."""
    before = made()
    density = tablet_densities()
    after_levels = DARK + 0.95 * (level_of(density, "linear") - DARK)
    read = steps_of(density)
    after = made(read=StepLevels(after_levels, read.standard_error, read.spread))
    drift = drift_between(before, after)
    light = 10.0**-drift.density
    expected = -np.log10(((light + 0.001) / 0.95 - 0.001) / light)
    assert expected[0] == pytest.approx(-0.0223, abs=1e-4)
    np.testing.assert_allclose(drift.shift, expected, atol=5e-4)
    assert drift.largest == pytest.approx(expected[-1], abs=5e-4)
    assert drift_between(before, before).rms < 1e-9
    other = made(setup=ScannerSetup("Flatbed 4", SETUP.settings))
    assert drift_between(before, other).code == "OTHER_SCANNER"


def test_it_survives_a_database_that_knows_no_negative_zero():
    """PostgreSQL keeps the numbers of jsonb as decimals, and gives -0.0 back as 0.0."""
    calibration = made()
    residual = np.full(calibration.residual.shape, -1e-9)
    stored = json.loads(json.dumps(calibration_to_dict(replace(calibration, residual=residual))))
    kept = json.loads(json.dumps(stored).replace("-0.0,", "0.0,").replace("-0.0]", "0.0]"))
    assert kept["steps"]["residual"][0] == 0.0
    assert isinstance(calibration_from_dict(kept), Calibration)


def test_it_survives_its_file_and_a_changed_number_does_not():
    calibration = made(response="sRGB")
    text = json.dumps(calibration_to_dict(calibration), allow_nan=False)
    back = calibration_from_dict(json.loads(text))
    assert isinstance(back, Calibration)
    levels = level_of(SEEN, "sRGB")
    np.testing.assert_allclose(
        back.response.density_at(levels)[0], calibration.response.density_at(levels)[0], atol=2e-6
    )
    assert calibration_to_dict(back) == json.loads(text)
    changed = json.loads(text)
    changed["response"]["density"][10] += 0.01
    assert calibration_from_dict(changed).code == "TAMPERED"
    for nothing in ({}, [], None, {"format": "scanner calibration 1"}):
        assert calibration_from_dict(nothing).code in ("UNCALIBRATED", "TAMPERED")
