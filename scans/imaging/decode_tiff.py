"""TIFF: checked tag by tag, then read strip by strip or tile by tile; plain files are mapped, not read."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import tifffile

from scans.imaging.decode_checks import Limits, check_declared, plausible_resolution, refuse_unless
from scans.imaging.decode_metadata import clean_text, profile_name
from scans.imaging.measures import Flag, Refusal
from scans.imaging.picture import Picture

COMPRESSIONS = {1: "none", 5: "LZW", 8: "deflate", 32946: "deflate"}
WHITE_IS_ZERO, BLACK_IS_ZERO, RGB = 0, 1, 2
CENTIMETRES_PER_INCH = 2.54
TEXT_TAGS = {"make": 271, "model": 272, "software": 305, "date_time": 306, "description": 270}
PROFILE_TAG = 34675


def read_tiff(path: Path, limits: Limits) -> Picture:
    """Read the first page of a TIFF file.

    Parameters
    ----------
    path : Path
    limits : Limits

    Returns
    -------
    Picture
        Its samples are a map of the file where that is possible, decoded otherwise.

    Raises
    ------
    RefusedError
        Where a check fails; anything else that a damaged file makes the libraries raise goes through.
    """
    with tifffile.TiffFile(path) as file:
        pages = _count_pages(file, limits)
        page = file.pages[0]
        channels = _check_page(page, limits)
        _check_segments(page, path.stat().st_size, limits)
        samples = _mapped(page, path) if _is_plain(page) else _decoded(page)
        if samples.ndim == 3:
            samples = samples[:, :, 0] if channels < 3 else samples[:, :, :3]
        resolution = _resolution(page)
        flags = () if pages == 1 else (Flag("SEVERAL_PAGES", f"The first of {pages} pages was read."),)
        return Picture(
            samples=samples,
            format="TIFF",
            bit_depth=page.bitspersample,
            resolution_ppi=resolution,
            metadata=_metadata(page),
            refusal=_refusal(page),
            flags=flags,
        )


def _count_pages(file: tifffile.TiffFile, limits: Limits) -> int:
    """Number of pages, looking no further than one past the limit."""
    count = 1
    try:
        while count <= limits.pages:
            file.pages[count]
            count += 1
    except IndexError:
        pass
    refuse_unless(
        count <= limits.pages,
        "TOO_MANY_PAGES",
        f"The file holds more than {limits.pages} pages; give one frame a file.",
    )
    return count


def _check_page(page: tifffile.TiffPage, limits: Limits) -> int:
    channels = page.samplesperpixel
    check_declared(page.imagewidth, page.imagelength, channels, page.bitspersample, limits)
    refuse_unless(
        page.compression in COMPRESSIONS,
        "UNSUPPORTED_COMPRESSION",
        f"The TIFF is compressed by method {int(page.compression)}; save it uncompressed, or with LZW or "
        "deflate.",
    )
    allowed = {1: (WHITE_IS_ZERO, BLACK_IS_ZERO), 2: (BLACK_IS_ZERO,), 3: (RGB,), 4: (RGB,)}
    refuse_unless(
        page.photometric in allowed.get(channels, ())
        and page.sampleformat == 1
        and page.imagedepth == 1
        and page.predictor in (1, 2)
        and page.dtype in (np.uint8, np.uint16),
        "UNSUPPORTED_SAMPLES",
        "The TIFF's samples are not grey or RGB whole numbers; scan to grey or RGB with 16 bits.",
    )
    return channels


def _check_segments(page: tifffile.TiffPage, file_size: int, limits: Limits) -> None:
    """Declared strips or tiles against the file: all there, none beyond its end, none too large."""
    if page.is_tiled:
        rows, columns = page.tilelength, page.tilewidth
    else:
        rows, columns = min(page.rowsperstrip, page.imagelength), page.imagewidth
    refuse_unless(rows > 0 and columns > 0, "DAMAGED_FILE", "The TIFF declares strips of no size.")
    planes = page.samplesperpixel if page.planarconfig == 2 else 1
    samples = page.samplesperpixel // planes
    size = rows * columns * samples * page.bitspersample // 8
    refuse_unless(
        size <= limits.segment_bytes, "SEGMENT_TOO_LARGE", "One strip or tile of the TIFF is too large."
    )
    count = math.ceil(page.imagelength / rows) * math.ceil(page.imagewidth / columns) * planes
    offsets, sizes = page.dataoffsets, page.databytecounts
    whole = len(offsets) >= count and len(sizes) >= count
    inside = whole and all(
        min(offset, length) > 0 and offset + length <= file_size
        for offset, length in zip(offsets[:count], sizes[:count], strict=True)
    )
    refuse_unless(inside, "DAMAGED_FILE", "The TIFF is cut short: it lacks pixels that it declares.")
    if page.compression == 1:
        needed = page.imagelength * page.imagewidth * page.samplesperpixel * page.bitspersample // 8
        refuse_unless(
            sum(sizes[:count]) >= needed, "DAMAGED_FILE", "The TIFF holds fewer pixels than it declares."
        )


def _is_plain(page: tifffile.TiffPage) -> bool:
    return page.is_contiguous and page.fillorder == 1 and page.predictor == 1 and page.planarconfig == 1


def _mapped(page: tifffile.TiffPage, path: Path) -> np.ndarray:
    """The pixels where they lie in the file, in the file's byte order."""
    shape = (page.imagelength, page.imagewidth)
    if page.samplesperpixel > 1:
        shape += (page.samplesperpixel,)
    dtype = np.dtype(page.parent.byteorder + page.dtype.char)
    return np.memmap(path, dtype=dtype, mode="r", offset=page.dataoffsets[0], shape=shape)


def _decoded(page: tifffile.TiffPage) -> np.ndarray:
    """All segments decoded one after the other in this thread, shape (h, w) or (h, w, c) [level]."""
    separate, contiguous = (page.samplesperpixel, 1) if page.planarconfig == 2 else (1, page.samplesperpixel)
    samples = np.empty((separate, page.imagelength, page.imagewidth, contiguous), page.dtype)
    for data, (plane, _, row, column, _), shape in page.segments(maxworkers=1):
        refuse_unless(data is not None, "DAMAGED_FILE", "The TIFF lacks a strip or tile that it declares.")
        if plane < separate and row < page.imagelength and column < page.imagewidth:
            target = samples[plane, row : row + shape[1], column : column + shape[2]]
            target[...] = data[0, : target.shape[0], : target.shape[1]]
    if page.samplesperpixel == 1:
        return samples[0, :, :, 0]
    return np.moveaxis(samples[:, :, :, 0], 0, -1) if separate > 1 else samples[0]


def _resolution(page: tifffile.TiffPage) -> tuple[float, float] | None:
    try:
        (x, x_over), (y, y_over) = page.tags[282].value, page.tags[283].value
        unit = int(page.tags.valueof(296, 2))
        scale = {2: 1.0, 3: CENTIMETRES_PER_INCH}[unit]
        return plausible_resolution(x / x_over * scale, y / y_over * scale)
    except (KeyError, TypeError, ValueError, ZeroDivisionError):
        return None


def _metadata(page: tifffile.TiffPage) -> dict:
    found = {name: clean_text(page.tags.valueof(code)) for name, code in TEXT_TAGS.items()}
    profile = page.tags.valueof(PROFILE_TAG)
    found["colour_profile"] = profile_name(bytes(profile)) if isinstance(profile, bytes | tuple) else ""
    found["compression"] = COMPRESSIONS[int(page.compression)]
    return {name: text for name, text in found.items() if text}


def _refusal(page: tifffile.TiffPage) -> Refusal | None:
    if page.bitspersample == 8:
        return Refusal("EIGHT_BITS", "Eight bits a sample are too coarse to measure with; scan with 16 bits.")
    if page.photometric == WHITE_IS_ZERO:
        return Refusal("INVERTED", "The file stores white as zero, so it is inverted; scan as a positive.")
    return None
