"""Free text out of files: made printable and short; and the name of a colour profile."""

from __future__ import annotations

import struct

LONGEST = 200


def clean_text(value: object) -> str:
    """Text of a file made fit to show: control characters dropped, at most 200 characters.

    Parameters
    ----------
    value : object
        A string, bytes, or anything else, which gives an empty string.

    Returns
    -------
    str

    Examples
    --------
    >>> clean_text(b"Flat bed 1\\x00\\x07")
    'Flat bed 1'
    """
    if isinstance(value, bytes):
        value = value.decode("utf-8", "replace")
    if not isinstance(value, str):
        return ""
    printable = "".join(character if character.isprintable() else " " for character in value[: 4 * LONGEST])
    return " ".join(printable.split())[:LONGEST]


def profile_name(profile: bytes) -> str:
    """The description inside a colour profile; empty when it has none that can be read.

    Parameters
    ----------
    profile : bytes
        An ICC profile, versions 2 and 4.

    Returns
    -------
    str

    References
    ----------
    ISO 15076-1, tag table, textDescriptionType and multiLocalizedUnicodeType; from memory.
    """
    try:
        (count,) = struct.unpack_from(">I", profile, 128)
        for index in range(min(count, 100)):
            name, offset, size = struct.unpack_from(">4sII", profile, 132 + 12 * index)
            if name == b"desc":
                return _description(profile[offset : offset + min(size, 4096)])
    except struct.error:
        pass
    return ""


def _description(element: bytes) -> str:
    if element[:4] == b"desc":
        (length,) = struct.unpack_from(">I", element, 8)
        return clean_text(element[12 : 12 + length].split(b"\0")[0])
    if element[:4] == b"mluc":
        length, offset = struct.unpack_from(">II", element, 20)
        return clean_text(element[offset : offset + length].decode("utf-16-be", "replace"))
    return ""
