"""Tiles show every pixel as it is, smaller levels show mean light, and a build leaves all or nothing."""

import os
import signal
import subprocess
import sys
import time
import tracemalloc

import imagecodecs
import numpy as np
import pytest

from scans.imaging import pyramid as pyramid_module
from scans.imaging.display_coding import Coding
from scans.imaging.measures import ImagingError, Refusal
from scans.imaging.picture import Picture
from scans.imaging.pyramid import Pyramid, build_pyramid, thumbnail
from tests.imaging.calibrations import made_calibration
from tests.imaging.picture_files import texture
from tests.imaging.responses import level_of


@pytest.fixture(scope="module")
def calibration():
    return made_calibration()


def levels_of(density):
    return np.clip(np.rint(level_of(density, "linear")), 0, 65535).astype(np.uint16)


def film(height=300, width=420, *, grain=0.03, seed=3):
    """A ramp from 0.3 to 1.8 D with grain."""
    rng = np.random.default_rng(seed)
    density = np.linspace(0.3, 1.8, width) + grain * rng.standard_normal((height, width))
    return Picture(levels_of(density))


def level_image(folder, pyramid, number):
    """All tiles of a level, put together."""
    height, width = (
        -(-side // 2 ** (pyramid.levels - 1 - number)) for side in (pyramid.height, pyramid.width)
    )
    step = pyramid.tile_px
    rows = []
    for row in range(-(-height // step)):
        paths = [
            folder / str(number) / f"{column}_{row}.{pyramid.format}" for column in range(-(-width // step))
        ]
        decode = imagecodecs.png_decode if pyramid.format == "png" else imagecodecs.jpeg8_decode
        rows.append(np.concatenate([decode(path.read_bytes()) for path in paths], axis=1))
    image = np.concatenate(rows)
    assert image.shape[:2] == (height, width)
    assert len(list((folder / str(number)).iterdir())) == len(rows) * -(-width // step)
    return image


def all_bytes(folder):
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()
    }


def test_the_last_level_has_every_pixel(tmp_path, calibration):
    picture = film()
    pyramid = build_pyramid(picture, tmp_path / "p", calibration)
    coding = pyramid.coding
    density = -np.log10(calibration.response.transmittance_table(65535)[picture.samples])
    expected = np.clip(np.rint(255 * (density - coding.low) / (coding.high - coding.low)), 0, 255)
    np.testing.assert_array_equal(level_image(tmp_path / "p", pyramid, pyramid.levels - 1), expected)
    assert (pyramid.width, pyramid.height, pyramid.levels, pyramid.format) == (420, 300, 10, "png")


def test_a_code_says_its_density_within_half_a_step(tmp_path, calibration):
    picture = film()
    pyramid = build_pyramid(picture, tmp_path / "p", calibration)
    coding = pyramid.coding
    read = coding.density_of(level_image(tmp_path / "p", pyramid, pyramid.levels - 1))
    density, _ = calibration.response.density_at(picture.samples.astype(float))
    # Between the response's points, 0.005 D apart, the table is straight in light and not in density.
    assert np.abs(read - density).max() <= coding.step / 2 + 2e-5
    # The ramp spans 1.5 D; with grain and a margin on either side its codes are finer than 0.008 D.
    assert 0.006 < coding.step < 0.008
    assert coding.low < 0.3 < 1.8 < coding.high


def test_going_down_light_is_averaged_and_not_density(tmp_path, calibration):
    """A chessboard of 0.3 and 1.3 D: mean transmittance 0.27565, 0.5597 D; the mean density would be 0.8."""
    density = np.where(np.indices((64, 64)).sum(axis=0) % 2, 0.3, 1.3)
    pyramid = build_pyramid(Picture(levels_of(density)), tmp_path / "p", calibration)
    lower = pyramid.coding.density_of(level_image(tmp_path / "p", pyramid, pyramid.levels - 2))
    # Levels are whole numbers and the fitted response departs by 2e-4 D.
    np.testing.assert_allclose(lower, 0.5597, atol=pyramid.coding.step / 2 + 0.001)


@pytest.mark.parametrize(
    "shape", [(1, 1), (1, 2), (2, 1), (3, 3), (1, 700), (511, 257), (513, 256), (255, 5)]
)
def test_odd_and_tiny_sizes_have_all_their_levels(tmp_path, calibration, shape):
    rng = np.random.default_rng(5)
    picture = Picture(levels_of(rng.uniform(0.3, 1.5, shape)))
    pyramid = build_pyramid(picture, tmp_path / "p", calibration)
    light = calibration.response.transmittance_table(65535)[picture.samples]
    for number in reversed(range(pyramid.levels)):
        image = level_image(tmp_path / "p", pyramid, number)
        # A code on the border between two may fall to either side in single precision.
        assert np.abs(image.astype(int) - pyramid.coding.codes(light)).max() <= 1
        if number:
            padded = np.pad(light, [(0, side % 2) for side in light.shape], mode="edge")
            height, width = padded.shape
            light = padded.reshape(height // 2, 2, width // 2, 2).mean(axis=(1, 3))
    assert image.shape == (1, 1)
    assert sorted(path.name for path in (tmp_path / "p").iterdir()) == sorted(
        str(number) for number in range(pyramid.levels)
    )


def test_the_same_picture_gives_the_same_bytes(tmp_path, calibration):
    picture = film()
    first = build_pyramid(picture, tmp_path / "p", calibration)
    before = all_bytes(tmp_path / "p")
    big_endian = Picture(picture.samples.astype(">u2"))
    assert build_pyramid(big_endian, tmp_path / "p", calibration) == first
    assert all_bytes(tmp_path / "p") == before
    assert [path.name for path in tmp_path.iterdir()] == ["p"]


def test_eight_bits_without_a_calibration_come_out_as_they_are(tmp_path):
    picture = Picture(texture(bits=8, channels=3), format="PNG", bit_depth=8)
    pyramid = build_pyramid(picture, tmp_path / "p")
    np.testing.assert_array_equal(level_image(tmp_path / "p", pyramid, pyramid.levels - 1), picture.samples)
    assert pyramid.coding == Coding("level", "sRGB")
    with pytest.raises(ImagingError, match="no densities"):
        pyramid.coding.density_of(10)


def test_sixteen_bits_without_a_calibration_are_shown_through_the_curve_of_srgb(tmp_path):
    """18 % of full scale is code 117.6 by IEC 61966-2-1; full scale 255, nothing 0."""
    samples = np.array([[0, round(0.18 * 65535), 65535, round(0.002 * 65535)]], np.uint16)
    pyramid = build_pyramid(Picture(samples), tmp_path / "p")
    image = level_image(tmp_path / "p", pyramid, pyramid.levels - 1)
    np.testing.assert_array_equal(image, [[0, 118, 255, 7]])


def test_of_a_calibrated_colour_scan_the_green_channel_is_shown(tmp_path, calibration):
    samples = np.stack([levels_of(np.full((40, 50), density)) for density in (0.3, 0.8, 1.4)], axis=2)
    pyramid = build_pyramid(Picture(samples), tmp_path / "p", calibration)
    image = level_image(tmp_path / "p", pyramid, pyramid.levels - 1)
    assert image.ndim == 2
    np.testing.assert_allclose(pyramid.coding.density_of(image), 0.8, atol=pyramid.coding.step)


def test_a_jpeg_stays_a_jpeg(tmp_path):
    picture = Picture(texture(bits=8, channels=3), "JPEG", 8, refusal=Refusal("LOSSY", "Lossy."))
    pyramid = build_pyramid(picture, tmp_path / "p")
    image = level_image(tmp_path / "p", pyramid, pyramid.levels - 1)
    assert pyramid.format == "jpg"
    # White noise of 5 levels in each channel is the worst case for JPEG.
    assert np.abs(image.astype(int) - picture.samples).mean() < 5


def test_what_may_not_be_measured_gets_no_densities(tmp_path, calibration):
    picture = Picture(texture(), refusal=Refusal("INVERTED", "White is stored as zero."))
    with pytest.raises(ImagingError, match="White is stored"):
        build_pyramid(picture, tmp_path / "p", calibration)
    assert list(tmp_path.iterdir()) == []


def test_codes_beyond_the_calibration_are_no_densities(tmp_path, calibration):
    """Clear gate (0 D), film, and an opaque holder (4.5 D) against steps from 0.05 to 3.05 D."""
    density = np.repeat([0.0, 0.5, 4.5], 30)[None, :] * np.ones((40, 1))
    pyramid = build_pyramid(Picture(levels_of(density)), tmp_path / "p", calibration)
    read = pyramid.coding.density_of(level_image(tmp_path / "p", pyramid, pyramid.levels - 1))
    assert np.isnan(read[:, :30]).all()
    np.testing.assert_allclose(read[:, 30:60], 0.5, atol=pyramid.coding.step)
    assert np.isnan(read[:, 60:]).all()


def test_an_even_field_does_not_fill_the_screen_with_its_grain(tmp_path, calibration):
    rng = np.random.default_rng(9)
    picture = Picture(levels_of(0.7 + 0.01 * rng.standard_normal((200, 200))))
    coding = build_pyramid(picture, tmp_path / "p", calibration).coding
    assert coding.high - coding.low == pytest.approx(0.5, abs=0.02)
    assert coding.low < 0.65 < 0.75 < coding.high


def test_a_build_that_fails_leaves_the_older_one(tmp_path, calibration, monkeypatch):
    build_pyramid(film(), tmp_path / "p", calibration)
    before = all_bytes(tmp_path / "p")
    calls = []

    def fails(tile, kind):
        calls.append(tile.shape)
        if len(calls) == 5:
            raise OSError("No space left on device")
        return b"half"

    monkeypatch.setattr(pyramid_module, "_encoded", fails)
    with pytest.raises(OSError, match="No space"):
        build_pyramid(film(seed=8), tmp_path / "p", calibration)
    assert all_bytes(tmp_path / "p") == before
    assert [path.name for path in tmp_path.iterdir()] == ["p"]


KILLED = """
import sys, time
import numpy as np
from pathlib import Path
from scans.imaging import pyramid
from scans.imaging.picture import Picture
plain = pyramid._encoded
pyramid._encoded = lambda tile, kind: (time.sleep(0.05), plain(tile, kind))[1]
pyramid.build_pyramid(Picture(np.full((3000, 3000), 999, np.uint16)), Path(sys.argv[1]))
"""


def test_a_killed_build_leaves_nothing_half_valid(tmp_path, calibration):
    folder = tmp_path / "p"
    child = subprocess.Popen(
        [sys.executable, "-c", KILLED, str(folder)], env=os.environ | {"PYTHONPATH": "."}
    )
    deadline = time.monotonic() + 30
    while not list(tmp_path.glob(".p.*/*/0_0.png")) and time.monotonic() < deadline:
        time.sleep(0.02)
    child.send_signal(signal.SIGKILL)
    assert child.wait() == -signal.SIGKILL
    assert not folder.exists()
    (left,) = tmp_path.iterdir()
    build_pyramid(film(), folder, calibration)
    assert folder.exists()
    assert left.exists()  # it may still be at work, for all that is known
    os.utime(left, (1, 1))
    build_pyramid(film(), folder, calibration)
    assert [path.name for path in tmp_path.iterdir()] == ["p"]


def test_bands_need_little_memory(tmp_path, calibration):
    picture = film(4000, 2000)
    tracemalloc.start()
    build_pyramid(picture, tmp_path / "p", calibration)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    # The frame has 16 MB. Bands of 256 rows in single precision and the sample for the range: below 16 MB.
    assert peak < 16e6


def test_a_pyramid_is_plain_json_and_back(tmp_path, calibration):
    pyramid = build_pyramid(film(), tmp_path / "p", calibration)
    assert Pyramid.from_dict(pyramid.to_dict()) == pyramid
    assert pyramid.to_dict()["coding"]["kind"] == "density"


def test_a_tile_of_an_odd_side_is_a_mistake(tmp_path):
    with pytest.raises(ImagingError, match="even number"):
        build_pyramid(film(), tmp_path / "p", tile_px=255)


@pytest.mark.parametrize(
    ("shape", "expected"),
    [((3000, 2000), (480, 320)), ((500, 900), (267, 480)), ((100, 90), (100, 90)), ((1, 5000), (1, 480))],
)
def test_a_thumbnail_has_the_longest_side_asked_for(calibration, shape, expected):
    picture = Picture(np.full(shape, 20000, np.uint16))
    assert imagecodecs.png_decode(thumbnail(picture)).shape == expected
    assert imagecodecs.png_decode(thumbnail(picture, calibration)).shape == expected


def test_a_thumbnail_looks_as_film_does_on_a_light_box(calibration):
    picture = film(600, 900)
    plain, calibrated = (imagecodecs.png_decode(thumbnail(picture, *each)) for each in ((), (calibration,)))
    for image in (plain, calibrated):
        columns = image.mean(axis=0)
        assert columns[20] > columns[240] > columns[-20]
    # Linear in density: the middle lies midway between the ends.
    columns = calibrated.mean(axis=0)
    assert columns[240] == pytest.approx((columns[20] + columns[460]) / 2, abs=2)


def test_a_thumbnail_of_colour_is_in_colour():
    picture = Picture(texture(900, 700, bits=8, channels=3), bit_depth=8)
    assert imagecodecs.png_decode(thumbnail(picture)).shape == (480, 373, 3)
