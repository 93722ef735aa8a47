"""Honest files are read to the last pixel, with what they say about themselves."""

import struct
import zlib

import imagecodecs
import numpy as np
import pytest
import tifffile

from scans.imaging.decode import read_picture
from scans.imaging.decode_child import decode_in_child
from scans.imaging.decode_metadata import clean_text, profile_name
from scans.imaging.measures import ImagingError
from scans.imaging.picture import Picture
from tests.imaging.picture_files import TIFF_KINDS, texture, write_png, write_tiff


@pytest.mark.parametrize("bits", [8, 16])
@pytest.mark.parametrize("channels", [1, 3])
@pytest.mark.parametrize("kind", TIFF_KINDS)
def test_tiff_is_read_whole(tmp_path, kind, channels, bits):
    samples = texture(channels=channels, bits=bits)
    path = write_tiff(tmp_path / "scan.tif", samples, **TIFF_KINDS[kind])
    picture = read_picture(path).picture
    np.testing.assert_array_equal(picture.samples, samples)
    assert (picture.format, picture.bit_depth, picture.channels) == ("TIFF", bits, channels)
    assert picture.resolution_ppi == (2400.0, 2400.0)
    assert picture.pixel_pitch_um == pytest.approx((10.583333, 10.583333), rel=1e-6)
    assert picture.metadata["make"] == "Invented maker"
    assert picture.metadata["model"] == "Flatbed model 3"
    assert picture.is_measurable == (bits == 16)


@pytest.mark.parametrize("compression", [None, "lzw", "zlib"])
def test_planes_stored_one_after_the_other_are_read(tmp_path, compression):
    samples = texture(channels=3)
    planes = np.ascontiguousarray(np.moveaxis(samples, -1, 0))
    path = tmp_path / "scan.tif"
    tifffile.imwrite(path, planes, photometric="rgb", planarconfig="separate", compression=compression)
    np.testing.assert_array_equal(read_picture(path).picture.samples, samples)


def test_alpha_is_left_out(tmp_path):
    samples = texture(channels=4)
    tifffile.imwrite(tmp_path / "a.tif", samples, photometric="rgb", extrasamples=["unassalpha"])
    write_png(tmp_path / "a.png", samples)
    for name in ("a.tif", "a.png"):
        np.testing.assert_array_equal(read_picture(tmp_path / name).picture.samples, samples[:, :, :3])


def test_a_plain_file_is_mapped_and_not_copied(tmp_path):
    path = write_tiff(tmp_path / "scan.tif", texture())
    assert isinstance(read_picture(path).picture.samples, np.memmap)


@pytest.mark.parametrize("bits", [8, 16])
@pytest.mark.parametrize("channels", [1, 3])
def test_png_is_read_whole(tmp_path, channels, bits):
    samples = texture(channels=channels, bits=bits)
    chunks = [
        (b"pHYs", struct.pack(">IIB", 157480, 157480, 1)),
        (b"tEXt", b"Software\0Scan desk 2"),
    ]
    picture = read_picture(write_png(tmp_path / "scan.png", samples, extra=chunks)).picture
    np.testing.assert_array_equal(picture.samples, samples)
    # 157480 pixels a metre is 4000 pixels an inch, cut to whole pixels a metre.
    assert picture.resolution_ppi == pytest.approx((4000.0, 4000.0), rel=1e-5)
    assert picture.metadata["software"] == "Scan desk 2"
    assert picture.is_measurable == (bits == 16)


def test_jpeg_is_for_looking(tmp_path):
    samples = texture(bits=8, channels=3)
    path = tmp_path / "scan.jpg"
    path.write_bytes(imagecodecs.jpeg8_encode(samples, level=95))
    picture = read_picture(path).picture
    assert picture.samples.shape == samples.shape
    assert picture.refusal.code == "LOSSY"


def test_eight_bits_and_inverted_levels_are_for_looking(tmp_path):
    tifffile.imwrite(tmp_path / "low.tif", texture(bits=8))
    tifffile.imwrite(tmp_path / "inverted.tif", texture(), photometric="miniswhite")
    assert read_picture(tmp_path / "low.tif").picture.refusal.code == "EIGHT_BITS"
    assert read_picture(tmp_path / "inverted.tif").picture.refusal.code == "INVERTED"


def test_the_first_of_two_pages_is_read_and_said_so(tmp_path):
    path = tmp_path / "scan.tif"
    with tifffile.TiffWriter(path) as file:
        file.write(texture(), metadata=None)
        file.write(texture(20, 30), metadata=None)
    picture = read_picture(path).picture
    assert picture.samples.shape == texture().shape
    assert [flag.code for flag in picture.flags] == ["SEVERAL_PAGES"]


@pytest.mark.parametrize(
    ("resolution", "unit", "expected"),
    [
        ((4000, 4000), "INCH", (4000.0, 4000.0)),
        ((1000, 500), "CENTIMETER", (2540.0, 1270.0)),
        ((300, 300), "NONE", None),
        ((72, 72), "INCH", None),
    ],
)
def test_resolution_is_taken_only_where_it_means_something(tmp_path, resolution, unit, expected):
    path = tmp_path / "scan.tif"
    tifffile.imwrite(path, texture(), resolution=resolution, resolutionunit=unit)
    assert read_picture(path).picture.resolution_ppi == expected


def test_the_colour_profile_has_a_name(tmp_path):
    description = b"Scan desk grey"
    element = b"desc\0\0\0\0" + struct.pack(">I", len(description) + 1) + description + b"\0"
    table = struct.pack(">I", 1) + struct.pack(">4sII", b"desc", 144, len(element))
    profile = bytes(128) + table + element
    path = tmp_path / "scan.tif"
    tifffile.imwrite(path, texture(), iccprofile=profile)
    assert read_picture(path).picture.metadata["colour_profile"] == "Scan desk grey"
    packed = (b"iCCP", b"any name\0\0" + zlib.compress(profile))
    png = write_png(tmp_path / "scan.png", texture(), extra=[packed])
    assert read_picture(png).picture.metadata["colour_profile"] == "Scan desk grey"
    text = "Grau".encode("utf-16-be")
    unicode_element = b"mluc\0\0\0\0" + struct.pack(">IIHHII", 1, 12, 0, 0, len(text), 28) + text
    newer = bytes(128) + table + unicode_element
    newer = newer[:132] + struct.pack(">4sII", b"desc", 144, len(unicode_element)) + unicode_element
    assert profile_name(newer) == "Grau"
    assert profile_name(b"short") == ""


def test_text_of_a_file_is_made_fit_to_show():
    assert clean_text("a\x00b\x1b[31m  c") == "a b [31m c"
    assert len(clean_text("x" * 10_000)) == 200
    assert clean_text(7) == ""


@pytest.mark.parametrize("kind", ["plain, big-endian", "tiles, LZW", "deflate"])
def test_a_child_reads_what_this_process_reads(tmp_path, kind):
    path = write_tiff(tmp_path / "scan.tif", texture(channels=3), **TIFF_KINDS[kind])
    here, there = read_picture(path).picture, decode_in_child(path, folder=tmp_path).picture
    np.testing.assert_array_equal(there.samples, here.samples)
    assert there.metadata == here.metadata
    assert there.resolution_ppi == here.resolution_ppi
    assert there.refusal == here.refusal
    assert [entry.name for entry in tmp_path.iterdir()] == ["scan.tif"]


def test_a_picture_keeps_its_shape():
    with pytest.raises(ImagingError, match="shape"):
        Picture(np.zeros((3, 0), np.uint16))
    with pytest.raises(ImagingError, match="bit depth"):
        Picture(np.zeros((3, 3), np.uint8))
