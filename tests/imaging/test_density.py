"""Areas are read as mean transmittance, whatever lies on them, or withheld with the reason."""

import datetime

import numpy as np
import pytest

from scans.imaging.calibrate import Calibration, ScannerSetup, StepLevels, calibrate
from scans.imaging.density import Area, read_areas, step_levels
from scans.imaging.locate import locate_tablet
from scans.imaging.measures import ImagingError, Refusal
from scans.imaging.picture import Picture
from scans.imaging.synthetic_tablets import FIRST, Scene, draw_scan
from tests.imaging.responses import CLEAR, DARK, level_of, tablet_densities

SQUARE = Area("square", [(20, 20), (219, 20), (219, 219), (20, 219)])


@pytest.fixture(scope="module")
def linear():
    """A linear scanner, calibrated without error."""
    density = tablet_densities()
    level = level_of(density, "linear")
    steps = StepLevels(level, np.full(21, 1.0), np.full(21, 60.0))
    setup = ScannerSetup("Flatbed 3", {})
    made = calibrate(steps, density, setup=setup, made_on=datetime.date(2026, 3, 1), dark_level=DARK)
    assert isinstance(made, Calibration)
    return made


def field(density, *, grain=0.0, seed=1, shape=(240, 240)):
    """Levels of a field; ``grain`` is the standard deviation of one pixel's density."""
    rng = np.random.default_rng(seed)
    return level_of(density + grain * rng.standard_normal(shape), "linear") + rng.normal(0, 20, shape)


def read(levels, calibration, area=SQUARE):
    samples = np.clip(np.rint(levels), 0, 65535).astype(np.uint16)
    (reading,) = read_areas(Picture(samples), [area], calibration)
    return reading


@pytest.mark.parametrize("density", [0.1, 0.7, 1.5, 2.4])
def test_a_plain_field_reads_its_density(linear, density):
    reading = read(field(density), linear)
    # The fit of the form without error leaves 2e-4 D; 20 levels over 200 pixels squared is far less.
    assert reading.density.value == pytest.approx(density, abs=0.002)
    assert reading.transmittance.value == pytest.approx(10.0**-density, rel=0.005)
    assert reading.density.low < reading.density.value < reading.density.high
    assert reading.flags == ()


def test_transmittance_is_averaged_and_not_density(linear):
    """Normal grain of 0.2 D: the mean transmittance gives (ln 10 / 2) 0.2^2 = 0.046 D less than 1.

    The moment of the log-normal distribution. Pixels beyond 4.5 robust deviations are left out, in level
    and in density both, so hardly any: 0.002 D is two standard errors of 40,000 pixels.
    """
    reading = read(field(1.0, grain=0.2, seed=4), linear)
    assert reading.density.value == pytest.approx(1.0 - np.log(10) / 2 * 0.2**2, abs=0.002)


@pytest.mark.parametrize("grain", [0.0, 0.05])
def test_dust_hair_and_scratches_are_left_out(linear, grain):
    levels = field(0.8, grain=grain, seed=6)
    clean = read(levels, linear)
    rng = np.random.default_rng(7)
    rows, columns = np.indices(levels.shape)
    for _ in range(40):
        y, x = rng.uniform(20, 220, 2)
        levels[np.hypot(rows - y, columns - x) < rng.uniform(1, 3)] = level_of(2.0, "linear")
    levels[np.abs(columns - rows * 0.3 - 60) < 1] = level_of(1.8, "linear")
    levels[np.abs(columns - 150) < 1] = level_of(0.1, "linear")
    reading = read(levels, linear)
    assert reading.density.value == pytest.approx(clean.density.value, abs=0.002)
    assert "DUST_LEFT_OUT" in [flag.code for flag in reading.flags]
    assert 0.01 < reading.left_out < 0.2


def test_a_turned_area_reads_what_is_inside_its_corners(linear):
    levels = np.where(np.indices((240, 240)).sum(axis=0) < 240, field(0.5), field(1.5, seed=2))
    below = Area("below", [(130, 130), (210, 60), (225, 225), (60, 210)])
    assert read(levels, linear, below).density.value == pytest.approx(1.5, abs=0.01)


def test_a_large_area_is_thinned_and_reads_the_same(linear):
    levels = field(1.0, grain=0.05, shape=(1200, 1500))
    whole = Area("whole", [(0, 0), (1499, 0), (1499, 1199), (0, 1199)])
    reading = read(levels, linear, whole)
    assert reading.usable_pixels < 120_000
    # Bias of averaging transmittance: (ln 10 / 2) 0.05^2 = 0.0029 D.
    assert reading.density.value == pytest.approx(1.0 - 0.0029, abs=0.001)


@pytest.mark.parametrize(
    ("levels", "reason"),
    [
        (np.full((240, 240), 65535.0), "SATURATED"),
        (np.full((240, 240), CLEAR + DARK), "BELOW_RANGE"),
        (np.full((240, 240), DARK), "EXTRAPOLATED"),
    ],
)
def test_what_lies_outside_the_calibration_is_withheld(linear, levels, reason):
    reading = read(levels, linear)
    assert (reading.density.value, reading.density.reason) == (None, reason)
    assert (reading.transmittance.value, reading.transmittance.reason) == (None, reason)


def test_too_few_pixels_and_areas_outside_are_withheld(linear):
    tiny = Area("tiny", [(5, 5), (9, 5), (9, 9), (5, 9)])
    outside = Area("outside", [(900, 900), (950, 900), (950, 950), (900, 950)])
    for area in (tiny, outside):
        assert read(field(1.0), linear, area).density.reason == "TOO_FEW_PIXELS"


def test_without_calibration_there_is_no_density():
    reading = read(field(1.0), None)
    assert reading.density.reason == "UNCALIBRATED"
    assert reading.level == pytest.approx(level_of(1.0, "linear"), rel=1e-3)


def test_a_picture_for_looking_is_not_measured(linear):
    refusal = Refusal("EIGHT_BITS", "Too coarse.")
    picture = Picture(np.zeros((50, 50), np.uint8), bit_depth=8, refusal=refusal)
    with pytest.raises(ImagingError, match="Too coarse"):
        read_areas(picture, [SQUARE], linear)


def test_an_uneven_area_is_flagged(linear):
    slope = np.linspace(0.9, 1.1, 240)[None, :] * np.ones((240, 1))
    assert "UNEVEN" in [flag.code for flag in read(field(slope), linear).flags]


def test_green_is_what_is_measured(linear):
    samples = np.stack([field(0.5), field(1.0), field(1.5)], axis=-1).astype(np.uint16)
    (reading,) = read_areas(Picture(samples), [SQUARE], linear)
    assert reading.density.value == pytest.approx(1.0, abs=0.002)


def test_interval_covers_the_truth():
    """Certificate error of 0.01 D, many calibrations: the truth lies within at least nine times in ten.

    200 pairs at one density: 0.95 less three standard errors is 0.90.
    """
    rng = np.random.default_rng(12)
    density = tablet_densities()
    level = level_of(density, "linear")
    field_levels = field(1.23)
    covered = []
    for _ in range(60):
        certificate = density + rng.normal(0, 0.01, 21)
        steps = StepLevels(level + rng.normal(0, 1, 21), np.full(21, 1.0), np.full(21, 60.0))
        made = calibrate(
            steps,
            certificate,
            setup=ScannerSetup("x"),
            made_on=datetime.date(2026, 3, 1),
            dark_level=DARK,
        )
        measure = read(field_levels, made).density
        covered.append(measure.low < 1.23 < measure.high)
    # 60 trials at 95 %: less than 51 happens once in two thousand.
    assert sum(covered) >= 51


def test_a_tablet_found_and_read_calibrates_its_scanner():
    """From picture to densities: the steps read again by their own calibration are their certificate's."""
    densities = FIRST + 0.15 * np.arange(21)
    scene = Scene(densities=tuple(densities), pitch_px=55.0, angle_deg=2.0, specks=60, hairs=2, seed=9)
    picture = draw_scan(scene)
    tablet = locate_tablet(picture, 21)
    readings = read_areas(picture, tablet.areas)
    made = calibrate(
        step_levels(readings),
        densities,
        setup=ScannerSetup("x"),
        made_on=datetime.date(2026, 3, 1),
        dark_level=300.0,
    )
    again = read_areas(picture, tablet.areas, made)
    inner = [reading.density.value for reading in again][1:-1]
    # 0.01 D of grain a pixel over some thousand pixels, and the prior error of 0.01 D a step in the fit.
    np.testing.assert_allclose(inner, densities[1:-1], atol=0.01)
