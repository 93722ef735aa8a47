"""Limits of a figure's axes as an address gives them; those that cannot be used are said, and left out."""

import math
from dataclasses import dataclass, field, replace

from django.http import QueryDict

from curves.sensitometry.number_text import plain_number

AXES = (("x", "left", "right"), ("y", "bottom", "top"))
NAMES = tuple(name for _, *names in AXES for name in names)
#: No density, log exposure or film speed comes near it.
FARTHEST = 99_999
LONGEST = 20
#: Of what is drawn; a browser that has to put marks at each stop of a far longer axis comes to a stand.
LONGEST_AXIS = 100


@dataclass(frozen=True)
class AxisLimits:
    """Where the axes end; None: as the figure has it. ``faults`` say what was asked for and is not used."""

    left: float | None = None
    right: float | None = None
    bottom: float | None = None
    top: float | None = None
    faults: tuple[str, ...] = field(default=(), compare=False)

    @classmethod
    def from_query(cls, query: QueryDict, drawing: str) -> "AxisLimits":
        """Read an address; a form says for which drawing it had them, as they mean nothing on other axes."""
        if query.get("drawn", drawing) != drawing:
            return cls()
        found, faults = {}, []
        for name in NAMES:
            if typed := query.get(name, "").strip()[:LONGEST]:
                found[name] = _number(typed)
                if found[name] is None:
                    wanted = f"a number from −{FARTHEST} to {FARTHEST}"
                    faults.append(f"{name.capitalize()}: “{typed}” is not {wanted}.")
        for _, low, high in AXES:
            ends = found.get(low), found.get(high)
            if None not in ends and ends[0] >= ends[1]:
                faults.append(f"{high.capitalize()} has to be more than {low}, not {_words(*ends)}.")
                found[low] = found[high] = None
        return cls(**found, faults=tuple(faults))

    @property
    def texts(self) -> dict[str, str]:
        """Each limit as it stands in an address and in its field; "" where there is none."""
        ends = {name: getattr(self, name) for name in NAMES}
        return {name: "" if end is None else _text(end) for name, end in ends.items()}

    @property
    def is_set(self) -> bool:
        """Whether the figure ends anywhere but by itself."""
        return any(self.texts.values())

    def over(self, figure: dict | None) -> "AxisLimits":
        """Return the limits between which something of the figure is drawn; of others, what is wrong."""
        kept, faults = self, list(self.faults)
        for axis, *names in AXES if figure else ():
            asked = {name: end for name in names if (end := getattr(self, name)) is not None}
            if fault := asked and _fault(figure, axis, asked.get(names[0]), asked.get(names[1])):
                words = " and ".join(f"{name} {_words(end)}" for name, end in asked.items())
                faults.append(f"{words.capitalize()}: {fault}")
                kept = replace(kept, **dict.fromkeys(names))
        return replace(kept, faults=tuple(faults))


def _fault(figure: dict, axis: str, low: float | None, high: float | None) -> str:
    """Why an axis of the figure cannot end there; "" where it can."""
    is_log = figure["layout"][f"{axis}axis"].get("type") == "log"
    if is_log and any(end is not None and end <= 0 for end in (low, high)):
        return "this axis has no place for zero or less."
    drawn = [value for trace in figure["data"] for value in trace[axis]]
    if not drawn:
        return ""
    first, last = min(drawn), max(drawn)
    span = f"from {plain_number(first, 2)} to {plain_number(last, 2)}"
    if (low is not None and low >= last) or (high is not None and high <= first):
        return f"nothing is drawn there, only {span}."
    length = (last if high is None else high) - (first if low is None else low)
    if not is_log and length > LONGEST_AXIS * (last - first) > 0:
        return f"what is drawn, {span}, would be less than a hundredth of the axis."
    return ""


def _number(text: str) -> float | None:
    try:
        number = float(text.replace(",", ".").replace("−", "-"))
    except ValueError:
        return None
    return float(_text(number)) + 0.0 if math.isfinite(number) and abs(number) <= FARTHEST else None


def _words(*ends: float) -> str:
    return " to ".join(_text(end).replace("-", "−") for end in ends)


def _text(end: float) -> str:
    """As many digits as zooming gives."""
    return f"{end:.10g}"
