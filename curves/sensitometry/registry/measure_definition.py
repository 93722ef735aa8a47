"""What the registry says of each measure, and the reasons that several of them share."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class MeasureDefinition:
    """What a measure is, for JSON, pages, tooltips and the page about the measurements.

    Parameters
    ----------
    name, title, symbol, unit : str
        Key, plain title, symbol in formulas, unit ("" for a plain ratio).
    decimals : int, scalar [1]
        Decimals to show.
    formula, source, explanation : str
        How it is worked out, where that comes from, and what it tells.
    reasons : tuple of str
        Codes that it may be withheld with.
    """

    name: str
    title: str
    symbol: str
    unit: str
    decimals: int
    formula: str
    source: str
    explanation: str
    reasons: tuple[str, ...]


ANY_CURVE = ("TOO_FEW_POINTS", "NON_MONOTONE")
SPEED_POINT = (*ANY_CURVE, "NO_BASE_FOG", "BELOW_RANGE", "NOT_REACHED", "ILL_DEFINED")
STRAIGHT_PART = (*ANY_CURVE, "NOT_REACHED", "NO_STRAIGHT_PART")
HOUSE = "House definition."
# Units: a place on the exposure axis (of absolute exposure), a distance along it, a slope.
PLACE = "log10 lx s"
RELATIVE_PLACE = "log10 relative"
DISTANCE = "log10"
SLOPE = "D per log10"
