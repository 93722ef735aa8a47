"""Numbers as the site shows them: value, unit and 95 % interval, or why there is none.

A measure is taken by shape: the engine's `Measure`, or the dictionary that it is stored as.
"""

import math

from django import template

from curves.sensitometry import MEASURES, REASONS
from curves.sensitometry.number_text import plain_number as number_text
from curves.sensitometry.number_text import signed_number

register = template.Library()

UNITS = {
    "log10 lx s": "log₁₀ lux·s",
    "lx s": "lux·s",
    "log10": "log₁₀",
    "log10 relative": "log₁₀, relative",
    "D per log10": "D per log₁₀",
    "degree": "degrees",
    "stop": "stops",
    "1000 D": "1/1000 D",
}
# A reason in a table cell, on paper or under a thumb: the code in words, but for codes that only a
# programmer reads.
SHORT_REASONS = {
    "N_OUT_OF_RANGE": "beyond the last step",
    "BELOW_RANGE": "before the first step",
    "NO_BASE_FOG": "no unexposed reading",
    "NON_MONOTONE": "does not rise",
    "TOO_FEW_POINTS": "too few readings",
    "UNCALIBRATED": "exposure is relative",
    "ILL_DEFINED": "too uncertain",
    "NO_INTERVAL": "spread not known",
    "OTHER_RIG": "by another rig",
}
# Written before their number, as photographers do.
LEADING_UNITS = ("ISO", "EI")
MOST_DECIMALS = 3
# An interval is shown as "±" when its two sides differ by less than this share of the wider one.
EVEN_SIDES = 0.15


@register.filter
def unit_text(unit: str) -> str:
    """A unit as it is read, from the engine's plain spelling."""
    return UNITS.get(unit, unit or "")


def decimals_for(spread: float | None) -> int:
    """Decimals that show an uncertainty with one digit, or two when it begins with 1 (GUM 7.2.6)."""
    if not spread or spread <= 0 or not math.isfinite(spread):
        return 2
    leading, exponent = f"{spread:.2e}".split("e")  # rounded, as half of 0.04 may be 0.0199…
    digits = 2 if float(leading) < 2 else 1
    return min(max(digits - 1 - int(exponent), 0), MOST_DECIMALS)


def interval_text(value: float, low: float | None, high: float | None, decimals: int) -> str:
    """The interval in words or signs: "± 0.02", "(0.55 to 0.63)"; "" for a bound or none."""
    if low is None or high is None:
        return ""
    below, above = value - low, high - value
    wider = max(below, above)
    if wider == 0:  # a rounded scale, all of the interval within one of its steps
        return f"({number_text(low, decimals)} to {number_text(high, decimals)})"
    if min(below, above) >= 0 and abs(above - below) <= EVEN_SIDES * wider:
        return f"± {number_text(wider, decimals)}"
    return f"({number_text(low, decimals)} to {number_text(high, decimals)})"


def _part(measure, name, default=None):
    return measure.get(name, default) if isinstance(measure, dict) else getattr(measure, name, default)


def _decimals(name, spread, is_column) -> int:
    """A column keeps the measure's own decimals; a lone number shows no more than its spread supports.

    Speeds do so in columns, too: they go over three decades and their errors with them, so that no number
    of decimals suits a column of them.
    """
    own = MEASURES[name].decimals if name in MEASURES else None
    if own is not None and is_column and MEASURES[name].unit not in LEADING_UNITS:
        return own
    supported = decimals_for(spread)
    return supported if own is None else min(own, supported)


def _a_digit_tells(value, low, high, places) -> bool:
    """Whether an interval that holds no zero reads so only with one decimal more."""
    return _reads_as_none(value, low, high, places) and not _reads_as_none(value, low, high, places + 1)


def _reads_as_none(value, low, high, places) -> bool:
    """Whether so rounded an interval that holds no zero would read as if it did: "0.02 ± 0.02"."""
    nearest = min(abs(round(low, places)), abs(round(high, places)))
    return nearest == 0 or abs(round(value, places)) <= round(max(value - low, high - value), places)


def measure_parts(measure, name="", decimals=None, is_column=False) -> dict:
    """What the component shows of one measure."""
    value, low, high, reason, unit, note = (
        _part(measure, key) for key in ("value", "low", "high", "reason", "unit", "note")
    )
    if value is None:
        text = REASONS.get(reason, reason or "Not measured.")
        short = SHORT_REASONS.get(reason, (reason or "").replace("_", " ").lower())
        return {
            "is_withheld": True,
            "reason": reason or "",
            "reason_text": text,
            "reason_short": short,
            "note": note or "",
        }
    is_bounded = low is not None and high is not None
    spread = (high - low) / 2 if is_bounded else None
    if decimals in (None, ""):
        decimals = _decimals(name or _part(measure, "name", ""), spread, is_column)
    places = int(decimals)
    if is_bounded and low * high > 0 and _a_digit_tells(value, low, high, places):
        places += 1
    bound = "≥" if high is None and low is not None else "≤" if low is None and high is not None else ""
    return {
        "is_withheld": False,
        "value": value,
        "text": number_text(value, places),
        "bound": bound,
        "unit": unit_text(unit),
        "is_leading": unit in LEADING_UNITS,
        "interval": interval_text(value, low, high, places),
        "note": note or "",
    }


@register.inclusion_tag("components/measure.html")
def measure(measure, decimals=None, unit=True, compact=False, big=False, name=""):
    """A measure with unit and interval; ``compact`` for table cells, where the column has the unit.

    A stored dictionary does not know its own name; give it as ``name`` for the registry's decimals.
    """
    shown = {"has_unit": unit and not compact, "is_compact": compact, "is_big": big}
    return measure_parts(measure, name, decimals, is_column=compact) | shown


@register.filter
def density(value) -> str:
    """A density with two decimals, "–" where there is none."""
    return "–" if value is None else number_text(float(value), 2)


@register.filter
def signed(value, decimals=2) -> str:
    """A difference with its sign always shown, but on what rounds to zero."""
    return "–" if value is None else signed_number(float(value), int(decimals))
