"""Two pictures are shown at one density by an offset with its interval, or the reason why not."""

import numpy as np
import pytest

from scans.imaging.density import Area, read_areas
from scans.imaging.display_coding import Coding, coding_of
from scans.imaging.display_match import display_match, grey_offset
from scans.imaging.measures import ImagingError, Measure
from scans.imaging.picture import Picture
from tests.imaging.calibrations import made_calibration
from tests.imaging.responses import level_of

CARD = Area("grey card", [(10, 10), (90, 10), (90, 90), (10, 90)])


@pytest.fixture(scope="module")
def calibration():
    return made_calibration()


def picture_of(density, seed=1):
    rng = np.random.default_rng(seed)
    levels = level_of(density + 0.02 * rng.standard_normal((100, 100)), "linear")
    return Picture(np.clip(np.rint(levels), 0, 65535).astype(np.uint16))


def read(density, calibration, seed=1):
    return read_areas(picture_of(density, seed), [CARD], calibration)[0]


def test_the_offset_brings_the_other_card_to_the_reference(calibration):
    reference, other = read(0.75, calibration), read(0.62, calibration, 2)
    match = display_match(reference, other)
    # 0.02 D of grain over 6400 pixels, and 2e-4 D of the response: far below 0.002.
    assert match.offset.value == pytest.approx(0.13, abs=0.002)
    assert match.offset.low < match.offset.value < match.offset.high
    halves = [(each.density.high - each.density.low) / 2 for each in (reference, other)]
    assert match.offset.high - match.offset.value == pytest.approx(np.hypot(*halves))
    assert match.withheld_by == ""
    assert match.to_dict()["offset"]["unit"] == "density"


@pytest.mark.parametrize("whose", ["reference", "other"])
def test_a_card_without_a_density_withholds_the_offset(calibration, whose):
    good = read(0.7, calibration)
    for bad, reason in ((read(0.7, None), "UNCALIBRATED"), (read(3.6, calibration), "EXTRAPOLATED")):
        pair = (bad, good) if whose == "reference" else (good, bad)
        match = display_match(*pair)
        assert match.offset.value is None
        assert match.offset.reason == reason
        assert match.withheld_by == whose
        assert whose in match.offset.note


def test_matched_codes_show_one_density(calibration):
    """Through codes of different range, the other's card gets the reference card's code, to rounding."""
    pictures = [picture_of(0.75), picture_of(0.62, 2)]
    # Another dense part gives the second picture a wider range.
    pictures[1].samples[:, :20] = round(float(level_of(2.0, "linear")))
    one, other = (coding_of(picture, calibration) for picture in pictures)
    assert other.step > 1.2 * one.step
    factor, added = grey_offset(one, other, 0.13)
    code = (0.62 - other.low) / other.step
    assert factor * code + added == pytest.approx((0.75 - one.low) / one.step)


def test_levels_cannot_be_matched(calibration):
    with pytest.raises(ImagingError, match="codes are densities"):
        grey_offset(Coding("level", "sRGB"), coding_of(picture_of(0.7), calibration), 0.1)


def test_a_density_without_an_interval_is_a_mistake(calibration):
    reading = read(0.7, calibration)
    object.__setattr__(reading, "density", Measure("density", 0.7, unit="density"))
    with pytest.raises(ImagingError, match="interval"):
        display_match(reading, reading)
