"""What a comparison's address says: standards, stocks in their order, and how the curves are drawn.

The address is the permalink: everything that is chosen stands in it, in one canonical form.
"""

from dataclasses import dataclass, replace
from urllib.parse import urlencode

from django.http import QueryDict

VIEWS = {
    "curves": "Characteristic curves",
    "difference": "Difference from the reference",
    "gradient": "Point gradient",
}
ALIGNMENTS = {"exposure": "by exposure", "speed_point": "by speed point"}
DENSITIES = {"gross": "gross density", "net": "net density"}
MOST_STOCKS = 60


@dataclass(frozen=True)
class Selection:
    """One comparison as its address gives it; unknown words fall back to the first choice."""

    standards: str = ""
    stocks: tuple[int, ...] = ()
    view: str = "curves"
    align: str = "exposure"
    density: str = "gross"
    bands: bool = False

    @classmethod
    def from_query(cls, query: QueryDict) -> "Selection":
        """Read an address; stocks already named by ``order`` keep their places before new ones."""
        chosen = _whole_numbers(query.getlist("stock"))
        before = [pk for pk in _whole_numbers(query.get("order", "").split(",")) if pk in chosen]
        stocks = tuple(dict.fromkeys([*before, *chosen]))[:MOST_STOCKS]
        return cls(
            standards=query.get("standards", ""),
            stocks=stocks,
            view=_one_of(VIEWS, query.get("view")),
            align=_one_of(ALIGNMENTS, query.get("align")),
            density=_one_of(DENSITIES, query.get("density")),
            bands=query.get("bands") == "1",
        )

    def query(self) -> str:
        """Return the canonical query string: only what differs from the first choices."""
        first = Selection()
        parts = [("standards", self.standards)] if self.standards else []
        parts += [("stock", pk) for pk in self.stocks]
        parts += [
            (name, getattr(self, name))
            for name in ("view", "align", "density")
            if getattr(self, name) != getattr(first, name)
        ]
        parts += [("bands", "1")] if self.bands else []
        return urlencode(parts)

    def with_stock(self, stock_id: int) -> "Selection":
        """Return the selection with one more stock, at the end."""
        return replace(self, stocks=(*self.stocks, stock_id))

    def without_stock(self, stock_id: int) -> "Selection":
        """Return the selection without a stock."""
        return replace(self, stocks=tuple(pk for pk in self.stocks if pk != stock_id))


def _whole_numbers(words) -> list[int]:
    return [int(word) for word in words if word.isascii() and word.isdigit() and len(word) < 10]


def _one_of(choices: dict[str, str], word: str | None) -> str:
    return word if word in choices else next(iter(choices))
