"""JPEG: read for looking only."""

from __future__ import annotations

import struct
from pathlib import Path

import imagecodecs
import numpy as np

from scans.imaging.decode_checks import (
    Limits,
    RefusedError,
    check_declared,
    plausible_resolution,
    refuse_unless,
)
from scans.imaging.decode_metadata import profile_name
from scans.imaging.measures import Refusal
from scans.imaging.picture import Picture

CENTIMETRES_PER_INCH = 2.54
FRAME_HEADERS = {0xC0, 0xC1, 0xC2}
"""Baseline, extended and progressive Huffman frames; the rarer kinds are not accepted."""
OTHER_FRAME_HEADERS = {0xC3, 0xC5, 0xC6, 0xC7, 0xC9, 0xCA, 0xCB, 0xCD, 0xCE, 0xCF}
RARE_KIND = "The JPEG is of a kind that is not accepted; save it as an ordinary one."
START_OF_SCAN, APP0, APP2 = 0xDA, 0xE0, 0xE2


def read_jpeg(path: Path, limits: Limits) -> Picture:
    """Read a JPEG file, which is refused for measuring.

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
    headers = _headers(data)
    refuse_unless("frame" in headers, "UNSUPPORTED_COMPRESSION", RARE_KIND)
    bits, height, width, channels = struct.unpack_from(">BHHB", headers["frame"])
    refuse_unless(
        channels in (1, 3) and bits == 8,
        "UNSUPPORTED_SAMPLES",
        "The JPEG is not grey or colour with 8 bits.",
    )
    check_declared(width, height, channels, bits, limits)
    samples = imagecodecs.jpeg8_decode(data)
    refuse_unless(
        samples.shape[:2] == (height, width) and samples.dtype == np.uint8,
        "DAMAGED_FILE",
        "The JPEG does not hold what it declares.",
    )
    return Picture(
        samples=samples[:, :, 0] if samples.ndim == 3 and samples.shape[2] == 1 else samples,
        format="JPEG",
        bit_depth=8,
        resolution_ppi=_resolution(headers.get("jfif", b"")),
        metadata=_metadata(headers),
        refusal=Refusal(
            "LOSSY", "A JPEG has lost the fine differences that are measured; scan to TIFF or PNG."
        ),
    )


def _headers(data: bytes) -> dict[str, bytes]:
    """What stands before the first scan."""
    found, place = {}, 2
    while place + 4 <= len(data):
        refuse_unless(data[place] == 0xFF, "DAMAGED_FILE", "The JPEG is damaged.")
        marker = data[place + 1]
        if marker in (0xFF, 0x01) or 0xD0 <= marker <= 0xD8:
            place += 1 if marker == 0xFF else 2
            continue
        (length,) = struct.unpack_from(">H", data, place + 2)
        body = data[place + 4 : place + 2 + length]
        if marker == START_OF_SCAN:
            return found
        _keep(found, marker, body)
        place += 2 + max(length, 2)
    raise RefusedError("DAMAGED_FILE", "The JPEG is cut short.")


def _keep(found: dict[str, bytes], marker: int, body: bytes) -> None:
    if marker in FRAME_HEADERS and len(body) >= 6:
        found["frame"] = body
    elif marker in OTHER_FRAME_HEADERS:
        raise RefusedError("UNSUPPORTED_COMPRESSION", RARE_KIND)
    elif marker == APP0 and body.startswith(b"JFIF\0"):
        found["jfif"] = body
    elif marker == APP2 and body.startswith(b"ICC_PROFILE\0"):
        found.setdefault("profile", body[14:])


def _resolution(jfif: bytes) -> tuple[float, float] | None:
    if len(jfif) < 12:
        return None
    unit, x, y = struct.unpack_from(">BHH", jfif, 7)
    scale = {1: 1.0, 2: CENTIMETRES_PER_INCH}.get(unit)
    return None if scale is None else plausible_resolution(x * scale, y * scale)


def _metadata(headers: dict[str, bytes]) -> dict:
    found = {"colour_profile": profile_name(headers.get("profile", b"")), "compression": "JPEG"}
    return {name: text for name, text in found.items() if text}
