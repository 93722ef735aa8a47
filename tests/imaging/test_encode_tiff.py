"""What is written as TIFF is read back whole, with what it says of itself."""

import numpy as np
import pytest

from scans.imaging.decode import read_picture
from scans.imaging.encode_tiff import write_tiff
from scans.imaging.picture import Picture
from tests.imaging.picture_files import texture


@pytest.mark.parametrize("channels", [1, 3])
@pytest.mark.parametrize("bits", [8, 16])
def test_a_picture_comes_back_whole(tmp_path, channels, bits):
    picture = Picture(texture(channels=channels, bits=bits), bit_depth=bits)
    path = write_tiff(picture, tmp_path / "a.tif", 4000, make="Invented maker", model="Flatbed 3")
    back = read_picture(path).picture
    np.testing.assert_array_equal(back.samples, picture.samples)
    assert back.resolution_ppi == (4000.0, 4000.0)
    assert back.metadata["make"] == "Invented maker"
    assert back.metadata["model"] == "Flatbed 3"
    assert back.is_measurable == (bits == 16)


def test_the_same_picture_gives_the_same_bytes_and_fewer(tmp_path):
    rng = np.random.default_rng(3)
    picture = Picture((20000 + 30 * rng.standard_normal((400, 600))).astype(np.uint16))
    told = {"make": "Invented maker", "date_time": "2026:01:31 18:00:00", "software": "Scan desk 2"}
    one, other = (write_tiff(picture, tmp_path / name, (2400, 1200), **told) for name in ("a", "b"))
    assert one.read_bytes() == other.read_bytes()
    assert one.stat().st_size < 0.8 * picture.samples.nbytes
    back = read_picture(one).picture
    assert back.resolution_ppi == (2400.0, 1200.0)
    assert back.metadata["date_time"] == told["date_time"]
    assert back.metadata["software"] == told["software"]


def test_the_pictures_own_resolution_is_kept_or_none_said(tmp_path):
    known = Picture(texture(), resolution_ppi=(1200.0, 1200.0))
    assert read_picture(write_tiff(known, tmp_path / "a.tif")).picture.resolution_ppi == (1200.0, 1200.0)
    assert read_picture(write_tiff(Picture(texture()), tmp_path / "b.tif")).picture.resolution_ppi is None
