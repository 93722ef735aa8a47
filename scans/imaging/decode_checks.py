"""What is checked before a single pixel is decoded, and the limits."""

from __future__ import annotations

from dataclasses import asdict, dataclass

from scans.imaging.measures import Refusal

MEGABYTE = 1024 * 1024


@dataclass(frozen=True)
class Limits:
    """How much one file may ask for.

    Parameters
    ----------
    file_bytes, pixels, decoded_bytes, segment_bytes : int
        Most bytes of the file, pixels of the picture, bytes of all its samples, bytes of one decoded
        strip or tile.
    pages : int
        Most pages; only the first is read. Some scanners add a small preview as a second one.
    memory_bytes : int
        Address space of a decoding child process.
    cpu_s, wall_s : int
        Seconds of computing, and of waiting, that a child process gets.
    """

    file_bytes: int = 512 * MEGABYTE
    pixels: int = 100_000_000
    decoded_bytes: int = 600 * MEGABYTE
    segment_bytes: int = 256 * MEGABYTE
    pages: int = 4
    memory_bytes: int = 1200 * MEGABYTE
    cpu_s: int = 20
    wall_s: int = 30

    def to_dict(self) -> dict:
        """The limits as plain JSON values."""
        return asdict(self)


DEFAULT_LIMITS = Limits()


class RefusedError(Exception):
    """Carries a `Refusal` from a check to the function that reports it."""

    def __init__(self, code: str, text: str):
        super().__init__(text)
        self.refusal = Refusal(code, text)


def refuse_unless(condition: bool, code: str, text: str) -> None:
    """Raise a refusal unless a condition holds.

    Parameters
    ----------
    condition : bool
    code, text : str
        As of a `Refusal`.

    Raises
    ------
    RefusedError
    """
    if not condition:
        raise RefusedError(code, text)


def check_declared(width: int, height: int, channels: int, bits: int, limits: Limits) -> None:
    """Check a declared picture against the limits.

    Parameters
    ----------
    width, height : int
        Pixels.
    channels, bits : int
        Samples a pixel, bits a sample.
    limits : Limits

    Raises
    ------
    RefusedError
    """
    refuse_unless(width > 0 and height > 0, "NO_PIXELS", f"The picture is {width} by {height} pixels.")
    refuse_unless(
        width * height <= limits.pixels,
        "TOO_MANY_PIXELS",
        f"The picture declares {width} by {height} pixels; at most {limits.pixels / 1e6:.0f} million are "
        "accepted. Scan a smaller area or at a lower resolution.",
    )
    refuse_unless(
        bits in (8, 16) and channels in (1, 2, 3, 4),
        "UNSUPPORTED_SAMPLES",
        f"The picture has {channels} samples of {bits} bits a pixel; scan to grey or RGB with 16 bits.",
    )
    needed = width * height * channels * bits // 8
    refuse_unless(
        needed <= limits.decoded_bytes,
        "TOO_LARGE",
        f"The picture unpacks to {needed // MEGABYTE} MB; at most {limits.decoded_bytes // MEGABYTE} MB are "
        "accepted.",
    )


def plausible_resolution(x: float, y: float) -> tuple[float, float] | None:
    """A resolution, or None when it cannot be that of a scan.

    Parameters
    ----------
    x, y : float
        As the file says [pixels per inch].

    Returns
    -------
    tuple of float or None, (x, y) [pixels per inch]
    """
    # 72 and 96 are what programs write that know no resolution; no film scan is that coarse.
    if not (100.0 <= x <= 20000.0 and 100.0 <= y <= 20000.0):
        return None
    return float(x), float(y)
