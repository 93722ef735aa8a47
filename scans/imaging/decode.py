"""Any file to a picture or a refusal with its reason; nothing is raised for a bad file."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from scans.imaging.decode_checks import DEFAULT_LIMITS, MEGABYTE, Limits, RefusedError, refuse_unless
from scans.imaging.decode_jpeg import read_jpeg
from scans.imaging.decode_png import SIGNATURE, read_png
from scans.imaging.decode_tiff import read_tiff
from scans.imaging.measures import Refusal
from scans.imaging.picture import Picture

READERS = (
    ((b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"), read_tiff),
    ((SIGNATURE,), read_png),
    ((b"\xff\xd8\xff",), read_jpeg),
)
"""First bytes of a file to its reader; the second pair of TIFF is BigTIFF."""


@dataclass(frozen=True)
class Outcome:
    """What became of a file: exactly one of a picture and a refusal.

    Parameters
    ----------
    picture : Picture or None
    refusal : Refusal or None
    """

    picture: Picture | None = None
    refusal: Refusal | None = None


def read_picture(path: str | Path, limits: Limits = DEFAULT_LIMITS) -> Outcome:
    """Read a picture in this process; for files from elsewhere use `decode_child.decode_in_child`.

    Parameters
    ----------
    path : str or Path
        The kind is recognised by content, never by name.
    limits : Limits

    Returns
    -------
    Outcome
    """
    try:
        return Outcome(picture=_read(Path(path), limits))
    except RefusedError as refused:
        return Outcome(refusal=refused.refusal)
    except OSError as error:
        if error.errno is None:  # the libraries raise bare ones for damaged content
            return _damaged()
        why = (error.strerror or "unknown reason").lower()
        return Outcome(refusal=Refusal("NOT_FOUND", f"The file cannot be opened: {why}."))
    except (MemoryError, ImportError):  # a codec that no longer fits is imported in vain
        text = "Decoding the picture needs more memory than is allowed; scan a smaller area."
        return Outcome(refusal=Refusal("OUT_OF_MEMORY", text))
    except Exception:  # whatever a hostile file makes the decoding libraries raise is the file's fault
        return _damaged()


def _read(path: Path, limits: Limits) -> Picture:
    size = path.stat().st_size
    refuse_unless(size > 0, "EMPTY_FILE", "The file holds nothing.")
    refuse_unless(
        size <= limits.file_bytes,
        "TOO_LARGE",
        f"The file has {size // MEGABYTE} MB; at most {limits.file_bytes // MEGABYTE} MB are accepted.",
    )
    with path.open("rb") as file:
        head = file.read(8)
    for beginnings, reader in READERS:
        if head.startswith(beginnings):
            return reader(path, limits)
    raise RefusedError("NOT_A_PICTURE", "The content is not TIFF, PNG or JPEG; scan to 16-bit TIFF.")


def _damaged() -> Outcome:
    text = "The file is cut short or damaged; copy or scan it again."
    return Outcome(refusal=Refusal("DAMAGED_FILE", text))
