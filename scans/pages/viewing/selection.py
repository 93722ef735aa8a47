"""What of scans side by side stands in the address: scans, place, magnification and tones."""

import math
from dataclasses import dataclass
from urllib.parse import urlencode

from scans.queries.side_by_side import MOST
from scans.queries.stills import LARGEST_ZOOM, MATCHES, PRINT_SCALES, REGIONS, TONES, Look


@dataclass(frozen=True)
class Selection(Look):
    """The choices, each one of those that there are; what is wrong in an address counts as not chosen."""

    scans: tuple[int, ...] = ()

    @classmethod
    def from_query(cls, query) -> "Selection":
        """Read from an address."""
        scans = dict.fromkeys(
            int(each) for each in query.getlist("scan") if each.isdecimal() and len(each) < 10
        )
        zoom = _number(query.get("zoom"))
        return cls(
            scans=tuple(scans)[:MOST],
            region=_one_of(REGIONS, query.get("region"), ""),
            match=_one_of(MATCHES, query.get("match"), "density"),
            tone=_one_of(TONES, query.get("tone"), "positive"),
            x=_number(query.get("x")),
            y=_number(query.get("y")),
            zoom=zoom if zoom and 0 < zoom <= LARGEST_ZOOM else None,
            print_scale=_one_of(PRINT_SCALES, query.get("print_scale"), ""),
        )

    def query(self) -> str:
        """The same choices as an address."""
        chosen = [("scan", pk) for pk in self.scans]
        chosen += [
            (name, f"{value:g}" if isinstance(value, float) else value)
            for name in ("region", "match", "tone", "x", "y", "zoom", "print_scale")
            if (value := getattr(self, name)) not in (None, "")
        ]
        return urlencode(chosen)


def _one_of(choices: dict, value: str | None, default: str) -> str:
    return value if value in choices else default


def _number(text: str | None) -> float | None:
    try:
        value = float(text or "")
    except ValueError:
        return None
    return value if math.isfinite(value) and abs(value) < 1e6 else None
