"""A QR picture as an outline for an SVG; a style sheet colours it, as the content policy wants."""

from dataclasses import dataclass

import segno

# Four modules of white around it, which readers need (ISO/IEC 18004 calls it the quiet zone).
QUIET = 4


@dataclass(frozen=True)
class QrPicture:
    """Its edge in modules, with the quiet zone, and the outline of the dark ones."""

    edge: int
    outline: str


def qr_picture(text: str) -> QrPicture:
    """Return the picture of a text; up to 15 % of it may be hidden by a reflection (level M)."""
    rows = [bytes(row) for row in segno.make(text, error="m", micro=False).matrix_iter(border=QUIET)]
    squares = [f"M{x} {y}h1v1h-1z" for y, row in enumerate(rows) for x, dark in enumerate(row) if dark]
    return QrPicture(len(rows), "".join(squares))
