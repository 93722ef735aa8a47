"""Numbers as the site shows them: value, unit and 95 % interval, or why there is none.

A measure is taken by shape: the engine's `Measure`, or the dictionary that it is stored as.
"""

import math

from django import template

from curves.sensitometry.codes import REASONS

register = template.Library()

UNITS = {
    "": "",
    "log10 lx s": "log lx·s",
    "log10 lux s": "log lx·s",
    "lx s": "lx·s",
    "stops": "stops",
    "stop": "stops",
    "D": "D",
}
MOST_DECIMALS = 3
# An interval is shown as "±" when its two sides differ by less than this share of the wider one.
EVEN_SIDES = 0.15


def decimals_for(spread: float | None) -> int:
    """Decimals that show an uncertainty with one digit, or two when it begins with 1 (GUM 7.2.6)."""
    if not spread or spread <= 0 or not math.isfinite(spread):
        return 2
    exponent = math.floor(math.log10(spread))
    digits = 2 if spread / 10**exponent < 2 else 1
    return min(max(digits - 1 - exponent, 0), MOST_DECIMALS)


def number_text(value: float, decimals: int) -> str:
    """A number with a true minus sign and no negative zero."""
    text = f"{value:.{decimals}f}"
    if float(text) == 0:
        text = text.lstrip("-")
    return text.replace("-", "−")


def interval_text(value: float, low: float | None, high: float | None, decimals: int) -> str:
    """The interval in words or signs: "± 0.02", "(0.55 to 0.63)"; "" for a bound or none."""
    if low is None or high is None:
        return ""
    below, above = value - low, high - value
    wider = max(below, above)
    if min(below, above) >= 0 and abs(above - below) <= EVEN_SIDES * wider:
        return f"± {number_text(wider, decimals)}"
    return f"({number_text(low, decimals)} to {number_text(high, decimals)})"


def _part(measure, name, default=None):
    return measure.get(name, default) if isinstance(measure, dict) else getattr(measure, name, default)


def measure_parts(measure, decimals=None) -> dict:
    """What the component shows of one measure."""
    if measure is None:
        return {"is_withheld": True, "reason": "", "reason_text": "Not measured."}
    value, low, high = (_part(measure, name) for name in ("value", "low", "high"))
    note = _part(measure, "note", "") or ""
    if value is None:
        code = _part(measure, "reason") or ""
        return {
            "is_withheld": True,
            "reason": code,
            "reason_text": REASONS.get(code, code or "Not measured."),
            "note": note,
        }
    spread = (high - low) / 2 if low is not None and high is not None else None
    places = decimals_for(spread) if decimals in (None, "") else int(decimals)
    unit = _part(measure, "unit", "") or ""
    bound = "≥" if high is None and low is not None else "≤" if low is None and high is not None else ""
    return {
        "is_withheld": False,
        "value": value,
        "text": number_text(value, places),
        "bound": bound,
        "unit": UNITS.get(unit, unit),
        "interval": interval_text(value, low, high, places),
        "note": note,
    }


@register.inclusion_tag("components/measure.html")
def measure(measure, decimals=None, unit=True, compact=False, big=False):
    """A measure with unit and interval; ``compact`` for table cells, where the column has the unit."""
    shown = {"has_unit": unit and not compact, "is_compact": compact, "is_big": big}
    return measure_parts(measure, decimals) | shown


@register.filter
def density(value) -> str:
    """A density with two decimals, "–" where there is none."""
    return "–" if value is None else number_text(float(value), 2)


@register.filter
def signed(value, decimals=2) -> str:
    """A difference with its sign always shown."""
    if value is None:
        return "–"
    text = number_text(float(value), int(decimals))
    return text if text.startswith("−") or float(value) == 0 else f"+{text}"
