"""Showing two pictures at one density: what is added to the other's densities so that a patch agrees."""

from __future__ import annotations

import math
from dataclasses import dataclass

from scans.imaging.density import AreaReading
from scans.imaging.display_coding import Coding
from scans.imaging.measures import ImagingError, Measure, withheld

NAME, UNIT = "density_offset", "density"


@dataclass(frozen=True)
class DisplayMatch:
    """How the other picture is shown.

    Parameters
    ----------
    offset : Measure
        Added to each of its densities, for showing only; withheld where either patch has no density.
    withheld_by : str
        "reference" or "other": whose density is missing; "" when none is.
    """

    offset: Measure
    withheld_by: str = ""

    def to_dict(self) -> dict:
        """The fields as plain JSON values."""
        return {"offset": self.offset.to_dict(), "withheld_by": self.withheld_by}


def display_match(reference_area: AreaReading, other: AreaReading) -> DisplayMatch:
    """The offset that brings the other picture's patch to the density of the reference's.

    Parameters
    ----------
    reference_area, other : AreaReading
        Of the same patch or region in either picture, such as the grey card.

    Returns
    -------
    DisplayMatch
        The interval takes the two densities' errors as independent; read with one calibration they share
        some, and the offset is known better than is said.
    """
    for whose, reading in (("reference", reference_area), ("other", other)):
        if reading.density.value is None:
            note = f"the {whose} picture's {reading.area.label} has no density"
            return DisplayMatch(withheld(NAME, reading.density.reason, UNIT, note), whose)
    offset = reference_area.density.value - other.density.value
    half = math.hypot(_half_width(reference_area.density), _half_width(other.density))
    note = f"for showing only; {reference_area.area.label} brought to the reference's density"
    return DisplayMatch(Measure(NAME, offset, low=offset - half, high=offset + half, unit=UNIT, note=note))


def _half_width(density: Measure) -> float:
    if density.low is None or density.high is None:
        raise ImagingError("NO_INTERVAL", "A density to match by has an interval.")
    return (density.high - density.low) / 2


def grey_offset(reference: Coding, other: Coding, offset: float) -> tuple[float, float]:
    """How a code of the other picture becomes a code of the reference's that shows the same density.

    Parameters
    ----------
    reference, other : Coding
        Of density.
    offset : float
        As of `display_match` [density].

    Returns
    -------
    factor, added : float, scalar [code / code], [code]
        ``reference_code = factor * other_code + added``, to be kept within 0 to 255.

    Examples
    --------
    >>> one = Coding("density", "linear", 0.0, 2.55, 0.01, 0.0, 3.0)
    >>> factor, added = grey_offset(one, one, 0.2)
    >>> factor, round(added, 9)
    (1.0, 20.0)
    """
    if reference.kind != "density" or other.kind != "density":
        raise ImagingError("UNCALIBRATED", "Only pictures whose codes are densities can be matched.")
    return other.step / reference.step, (other.low + offset - reference.low) / reference.step
