"""What a comparison's address says: standards, stocks in their order, how they are drawn and tabled.

The address is the permalink: everything that is chosen stands in it, in one short canonical form.
"""

import math
from dataclasses import dataclass, field, replace
from urllib.parse import urlencode

from django.http import QueryDict

from curves.pages.compare.limits import AxisLimits
from curves.queries.comparison_document import COLUMNS
from curves.queries.comparison_rows import COST, PLAIN_ORDERS, RowChoice, RowFilter

VIEWS = {
    "curves": "Characteristic curves",
    "difference": "Difference from the reference",
    "gradient": "Point gradient",
    "panels": "A panel for each stock",
}
ALIGNMENTS = {
    "exposure": "by exposure",
    "speed_point": "by speed point",
    "shadow_density": "by equal shadow density (net 0.30)",
    "contrast": "by speed point, contrast matched",
}
DENSITIES = {"gross": "gross density", "net": "net density"}
PRODUCTION = {"": None, "yes": True, "no": False}
#: What the table shows unless other columns are chosen: as many as a screen of 1280 pixels holds.
FIRST_COLUMNS = (
    "exposure_index",
    "average_gradient_150",
    "speed_shift_stops",
    "contrast_ratio",
    "toe_difference",
    "middle_difference",
    "highlight_difference",
    "base_difference",
)
ORDERS = (*PLAIN_ORDERS, COST, *COLUMNS)
MOST_STOCKS = 60
LONGEST_WORDS = 60


@dataclass(frozen=True)
class Selection:
    """One comparison as its address gives it; unknown words fall back to the first choice."""

    standards: str = ""
    stocks: tuple[int, ...] = ()
    view: str = "curves"
    align: str = "exposure"
    density: str = "gross"
    bands: bool = False
    mixed: bool = False
    pinned: tuple[str, ...] = ()
    hidden: tuple[int, ...] = ()
    sort: str = "name"
    columns: tuple[str, ...] = FIRST_COLUMNS
    cost: bool = False
    q: str = ""
    maker: str = ""
    format: str = ""
    production: str = ""
    speed_from: float | None = None
    speed_to: float | None = None
    contrast_from: float | None = None
    contrast_to: float | None = None
    grain_from: float | None = None
    grain_to: float | None = None
    sharpness_from: float | None = None
    sharpness_to: float | None = None
    cost_from: float | None = None
    cost_to: float | None = None
    sheet: int = 1
    limits: AxisLimits = field(default_factory=AxisLimits)

    @classmethod
    def from_query(cls, query: QueryDict) -> "Selection":
        """Read an address; stocks already named by ``order`` keep their places before new ones."""
        chosen = _whole_numbers([*query.get("stocks", "").split("."), *query.getlist("stock")])
        before = [pk for pk in _whole_numbers(query.get("order", "").split(".")) if pk in chosen]
        hidden = tuple(dict.fromkeys(_whole_numbers(query.get("hide", "").split("."))))[:MOST_STOCKS]
        stocks = [pk for pk in dict.fromkeys([*before, *chosen]) if pk not in hidden]
        words = [*query.get("columns", "").split("."), *query.getlist("column")]
        drawing = {
            name: _one_of(choices, query.get(name))
            for name, choices in (("view", VIEWS), ("align", ALIGNMENTS), ("density", DENSITIES))
        }
        return cls(
            standards=query.get("standards", "")[:40],
            stocks=tuple(stocks)[:MOST_STOCKS],
            **drawing,
            # Panels all have one scale, and no limits.
            limits=AxisLimits()
            if drawing["view"] == "panels"
            else AxisLimits.from_query(query, ".".join(drawing.values())),
            bands=query.get("bands") == "1",
            mixed=query.get("mixed") == "1",
            pinned=_pinned(query.get("pin", "")),
            hidden=hidden,
            sort=query.get("sort") if query.get("sort", "").lstrip("-") in ORDERS else "name",
            columns=tuple(name for name in COLUMNS if name in words) or FIRST_COLUMNS,
            cost=COST in words,
            production=_one_of(PRODUCTION, query.get("production")),
            sheet=next(iter(_whole_numbers([query.get("sheet", "")])), 1) or 1,
            **{name: _words(query.get(name)) for name in ("q", "maker", "format")},
            **{name: _number(query.get(name)) for name in RANGES},
        )

    def query(self) -> str:
        """Return the canonical query string: only what differs from the first choices."""
        first = Selection()
        parts = [("standards", self.standards)] if self.standards else []
        for name, values in (("stocks", self.stocks), ("pin", self.pinned), ("hide", self.hidden)):
            parts += [(name, ".".join(map(str, values)))] if values else []
        parts += [
            (name, getattr(self, name))
            for name in ("view", "align", "density", "sort", "q", "maker", "format", "production")
            if getattr(self, name) != getattr(first, name)
        ]
        parts += [(name, "1") for name in ("bands", "mixed") if getattr(self, name)]
        parts += [(name, f"{getattr(self, name):g}") for name in RANGES if getattr(self, name) is not None]
        columns = self.all_columns
        parts += [("columns", ".".join(columns))] if columns != FIRST_COLUMNS else []
        parts += [(name, text) for name, text in self.limits.texts.items() if text]
        parts += [("sheet", self.sheet)] if self.sheet > 1 else []
        return urlencode(parts)

    @property
    def all_columns(self) -> tuple[str, ...]:
        """The chosen columns, what a frame costs among them, which is no measure."""
        return (*([COST] if self.cost else []), *self.columns)

    @property
    def tells_costs(self) -> bool:
        """Whether anything on the page hangs on what a frame costs."""
        ends = (self.cost_from, self.cost_to)
        return self.cost or self.sort.lstrip("-") == COST or ends != (None, None)

    @property
    def drawing(self) -> str:
        """What the axes show; limits that were set for another drawing mean nothing on this one."""
        return f"{self.view}.{self.align}.{self.density}"

    def choice(self) -> RowChoice:
        """Return which stocks are shown."""
        wanted = RowFilter(
            words=self.q,
            maker=self.maker,
            format=self.format,
            is_in_production=PRODUCTION[self.production],
            speed=(self.speed_from, self.speed_to),
            contrast=(self.contrast_from, self.contrast_to),
            grain=(self.grain_from, self.grain_to),
            sharpness=(self.sharpness_from, self.sharpness_to),
            cost=(self.cost_from, self.cost_to),
        )
        return RowChoice(self.stocks, frozenset(self.hidden), wanted, self.sort, self.sheet)

    def with_stock(self, stock_id: int) -> "Selection":
        """Return the selection with one more stock, at the end."""
        return replace(self, stocks=(*self.stocks, stock_id))

    def without_stock(self, stock_id: int) -> "Selection":
        """Return the selection without a stock."""
        return replace(self, stocks=tuple(pk for pk in self.stocks if pk != stock_id))

    def hiding(self, stock_id: int) -> "Selection":
        """Return the selection with a stock hidden, and no longer chosen."""
        return replace(self.without_stock(stock_id), hidden=(*self.hidden, stock_id))

    def sorted_by(self, name: str) -> "Selection":
        """Return the selection in another order: upwards first, then downwards; from the first sheet."""
        return replace(self, sort=f"-{name}" if self.sort == name else name, sheet=1)

    def with_column(self, name: str) -> "Selection":
        """Return the selection with one more column, in its place among the others."""
        if name == COST:
            return replace(self, cost=True)
        return replace(self, columns=tuple(each for each in COLUMNS if each in (*self.columns, name)))

    def unfiltered(self) -> "Selection":
        """Return the selection without its filters, drawn and tabled as it is."""
        free = Selection()
        return replace(self, sheet=1, **{name: getattr(free, name) for name in FILTERS})

    def changed(self, **values) -> "Selection":
        """Return the selection with some of its values changed."""
        return replace(self, **values)


RANGES = tuple(
    f"{name}_{end}" for name in ("speed", "contrast", "grain", "sharpness", "cost") for end in ("from", "to")
)
FILTERS = ("q", "maker", "format", "production", *RANGES)


def _whole_numbers(words) -> list[int]:
    return [int(word) for word in words if word.isascii() and word.isdigit() and len(word) < 10]


def _pinned(text: str) -> tuple[str, ...]:
    """Keys of curves that stay lit: the reference's or a stock's number."""
    words = [word for word in text.split(".") if word == "reference" or _whole_numbers([word])]
    return tuple(dict.fromkeys(words))[:MOST_STOCKS]


def _one_of(choices: dict, word: str | None) -> str:
    return word if word in choices else next(iter(choices))


def _words(text: str | None) -> str:
    """Typed words without what no name holds, so that the address stays what it was."""
    return " ".join("".join(each for each in text or "" if each.isprintable()).split())[:LONGEST_WORDS]


def _number(text: str | None) -> float | None:
    try:
        number = float((text or "").strip().replace(",", "."))
    except ValueError:
        return None
    return float(f"{number:g}") if math.isfinite(number) and 0 <= number < 1e6 else None
