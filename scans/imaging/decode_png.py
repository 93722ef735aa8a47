"""PNG: its chunks are walked and checked before the decoder sees the file."""

from __future__ import annotations

import struct
import zlib
from pathlib import Path

import imagecodecs
import numpy as np

from scans.imaging.decode_checks import Limits, check_declared, plausible_resolution, refuse_unless
from scans.imaging.decode_metadata import clean_text, profile_name
from scans.imaging.measures import Refusal
from scans.imaging.picture import Picture

SIGNATURE = b"\x89PNG\r\n\x1a\n"
METRES_PER_INCH = 0.0254
CHANNELS = {0: 1, 2: 3, 4: 2, 6: 4}
"""Samples a pixel by colour type; type 3, a palette, is not accepted."""
MOST_CHUNKS = 100_000
LARGEST_PROFILE = 1024 * 1024
TEXT_KEYS = {"Software": "software", "Make": "make", "Model": "model", "Description": "description"}


def read_png(path: Path, limits: Limits) -> Picture:
    """Read a PNG file.

    Parameters
    ----------
    path : Path
    limits : Limits

    Returns
    -------
    Picture

    Raises
    ------
    RefusedError
        Where a check fails; anything else that a damaged file makes the library raise goes through.
    """
    data = path.read_bytes()
    chunks = _chunks(data)
    width, height, bits, colour = struct.unpack_from(">IIBB", chunks["IHDR"])
    refuse_unless(
        colour in CHANNELS and bits in (8, 16),
        "UNSUPPORTED_SAMPLES",
        "The PNG is not grey or RGB with 8 or 16 bits; scan to grey or RGB with 16 bits.",
    )
    channels = CHANNELS[colour]
    check_declared(width, height, channels, bits, limits)
    samples = imagecodecs.png_decode(data)
    samples = samples.reshape(height, width, -1)
    refuse_unless(samples.shape[2] == channels, "DAMAGED_FILE", "The PNG does not hold what it declares.")
    samples = samples[:, :, 0] if channels < 3 else samples[:, :, :3]
    refusal = None
    if bits == 8:
        refusal = Refusal(
            "EIGHT_BITS", "Eight bits a sample are too coarse to measure with; scan with 16 bits."
        )
    return Picture(
        samples=np.ascontiguousarray(samples),
        format="PNG",
        bit_depth=bits,
        resolution_ppi=_resolution(chunks),
        metadata=_metadata(chunks),
        refusal=refusal,
    )


def _chunks(data: bytes) -> dict[str, bytes]:
    """The last chunk of each kind before the pixels, and IEND, which must be there."""
    found, place, count = {}, len(SIGNATURE), 0
    while "IEND" not in found:
        whole = place + 12 <= len(data) and count < MOST_CHUNKS
        refuse_unless(whole, "DAMAGED_FILE", "The PNG is cut short.")
        length, kind = struct.unpack_from(">I4s", data, place)
        refuse_unless(place + 12 + length <= len(data), "DAMAGED_FILE", "The PNG is cut short.")
        name = kind.decode("latin-1")
        if name == "tEXt":
            key, _, text = data[place + 8 : place + 8 + min(length, 1000)].partition(b"\0")
            found["tEXt:" + key.decode("latin-1")] = text
        elif name != "IDAT":
            found[name] = data[place + 8 : place + 8 + length]
        place += 12 + length
        count += 1
    refuse_unless(len(found.get("IHDR", b"")) >= 13, "DAMAGED_FILE", "The PNG has no header.")
    return found


def _resolution(chunks: dict[str, bytes]) -> tuple[float, float] | None:
    try:
        x, y, unit = struct.unpack(">IIB", chunks["pHYs"])
    except (KeyError, struct.error):
        return None
    return plausible_resolution(x * METRES_PER_INCH, y * METRES_PER_INCH) if unit == 1 else None


def _metadata(chunks: dict[str, bytes]) -> dict:
    found = {ours: clean_text(chunks.get("tEXt:" + theirs)) for theirs, ours in TEXT_KEYS.items()}
    found["colour_profile"] = "sRGB" if "sRGB" in chunks else _profile(chunks.get("iCCP", b""))
    found["compression"] = "deflate"
    return {name: text for name, text in found.items() if text}


def _profile(chunk: bytes) -> str:
    name, _, packed = chunk.partition(b"\0")
    try:
        # Bounded: a chunk of a few kilobytes may unpack to gigabytes.
        profile = zlib.decompressobj().decompress(packed[1:], LARGEST_PROFILE)
    except zlib.error:
        profile = b""
    return profile_name(profile) or clean_text(name)
