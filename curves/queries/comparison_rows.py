"""Which stocks a comparison shows: filtered and in order, a sheet of them at a time, without loading a curve.

One query fetches a light line for every stock under the pair of standards, with just those measures that
the filter and the order ask for; so a lab of a thousand stocks opens a comparison about as fast as one of
fifty.
"""

import json
from dataclasses import dataclass
from functools import lru_cache

from django.db.models import FloatField, TextField, Value
from django.db.models.fields.json import KeyTextTransform, KeyTransform
from django.db.models.functions import Cast, NullIf

from curves.queries.frame_costs import FrameCosts, frame_costs
from curves.queries.picture_measures import NAMES as PICTURES
from curves.queries.picture_measures import LabPictures
from curves.queries.stocks import visible_results

#: Stocks on one sheet, the reference aside; with so many chosen, a few others still stand below them.
SHEET_SIZE = 50
FEWEST_OTHERS = 10
#: What the filters of speed, contrast, grain and sharpness look at.
SPEED, CONTRAST = "exposure_index", "average_gradient_150"
GRAIN, SHARPNESS = "rms_granularity", "film_mtf50"
#: No measure, but put in order and filtered as one: what a frame costs, in the lab's usual currency.
COST = "frame_cost"
#: Orders by a difference that a measure of the stock's own gives as well: name → (measure, reversed).
SAME_ORDER = {"speed_shift_stops": ("speed_point_log_exposure", True)}
PLAIN_ORDERS = {"name": "name", "maker": "maker", "box": "box_speed", "rolls": "roll_count"}


@dataclass(frozen=True)
class RowFilter:
    """Which stocks are wanted; empty values want all."""

    words: str = ""
    maker: str = ""
    format: str = ""
    is_in_production: bool | None = None
    speed: tuple[float | None, float | None] = (None, None)
    contrast: tuple[float | None, float | None] = (None, None)
    grain: tuple[float | None, float | None] = (None, None)
    sharpness: tuple[float | None, float | None] = (None, None)
    cost: tuple[float | None, float | None] = (None, None)

    def passes(self, row: "CatalogueRow") -> bool:
        """Whether a stock is wanted; one whose speed is withheld is not within any range of speeds."""
        if self == ANY:
            return True
        said = f"{row.name} {row.maker}".casefold()
        return (
            self.words.casefold() in said
            and self.maker in ("", row.maker)
            and (not self.format or self.format in row.formats)
            and self.is_in_production in (None, row.is_in_production)
            and all(_is_within(row.values.get(name), ends) for name, ends in self.ranges.items())
        )

    @property
    def measures(self) -> set[str]:
        """Measures that the filter looks at."""
        return {name for name, ends in self.ranges.items() if ends != (None, None)}

    @property
    def ranges(self) -> dict[str, tuple[float | None, float | None]]:
        """Measure → the range that is wanted of it."""
        return {
            SPEED: self.speed,
            CONTRAST: self.contrast,
            GRAIN: self.grain,
            SHARPNESS: self.sharpness,
            COST: self.cost,
        }


ANY = RowFilter()


@dataclass(frozen=True)
class RowChoice:
    """What the page shows of the lab: the chosen stocks, then others by filter, order and sheet."""

    stocks: tuple[int, ...] = ()
    hidden: frozenset[int] = frozenset()
    wanted: RowFilter = ANY
    sort: str = "name"
    sheet: int = 1

    @property
    def measures(self) -> set[str]:
        """What is looked at of every stock of the lab."""
        return self.wanted.measures | _measures_of(self.sort)

    @property
    def picture_names(self) -> set[str]:
        """What of it is read off pictures."""
        return self.measures & set(PICTURES)


@dataclass(slots=True)
class CatalogueRow:
    """One stock as the filter sees it."""

    stock_id: int
    name: str
    maker: str
    box_speed: int
    formats: tuple[str, ...]
    is_in_production: bool
    roll_count: int
    values: dict[str, float | None]


@dataclass(frozen=True)
class Catalogue:
    """The stocks of a sheet, in their order, and how many more there are.

    ``costs`` are those of all stocks, where order or filter looked at them.
    """

    shown: tuple[int, ...]
    total: int
    passing: int
    sheet: int
    sheet_count: int
    makers: tuple[str, ...]
    formats: tuple[str, ...]
    hidden_names: tuple[str, ...]
    costs: FrameCosts | None = None


def catalogue(
    user, pair, choice: RowChoice, *, reference_id: int | None, pictures: LabPictures | None = None
) -> Catalogue:
    """Return the stocks that one sheet of the comparison shows, chosen ones first.

    ``pictures`` are those of all stocks, needed where the choice looks at grain or sharpness.
    """
    rows = _rows(user, pair, sorted(choice.measures - choice.picture_names - {COST}))
    for name in choice.picture_names if pictures else ():
        _add_pictures(rows, name, pictures)
    costs = frame_costs(film_format=choice.wanted.format) if COST in choice.measures else None
    if costs:
        comparable = costs.comparable
        for stock_id, row in rows.items():
            row.values[COST] = comparable.get(stock_id)
    chosen = [pk for pk in choice.stocks if pk in rows and pk not in choice.hidden]
    apart = {*chosen, *choice.hidden, reference_id}
    others = [row for pk, row in rows.items() if pk not in apart and choice.wanted.passes(row)]
    others = _in_order(others, choice.sort)
    room = max(SHEET_SIZE - len(chosen), FEWEST_OTHERS)
    sheets = max(1, -(-len(others) // room))
    sheet = min(max(choice.sheet, 1), sheets)
    on_sheet = others[(sheet - 1) * room : sheet * room]
    return Catalogue(
        shown=(*chosen, *(row.stock_id for row in on_sheet)),
        total=len(rows),
        passing=len(others),
        sheet=sheet,
        sheet_count=sheets,
        makers=tuple(sorted({row.maker for row in rows.values()})),
        formats=tuple(sorted({name for row in rows.values() for name in row.formats})),
        hidden_names=tuple(rows[pk].name for pk in rows if pk in choice.hidden),
        costs=costs,
    )


def _rows(user, pair, names: list[str]) -> dict[int, CatalogueRow]:
    results = visible_results(user).filter(**pair.ids).order_by("stock__name", "stock__maker")
    results = results.annotate(**{f"{name}_value": measured(name) for name in names})
    results = results.annotate(formats_text=Cast("stock__formats", TextField()))
    found = results.values_list(
        "stock_id",
        "stock__name",
        "stock__maker",
        "stock__box_speed",
        "formats_text",
        "stock__is_in_production",
        "pooled__roll_count",
        *(f"{name}_value" for name in names),
    )
    return {
        row[0]: CatalogueRow(*row[:4], _formats(row[4]), *row[5:7], dict(zip(names, row[7:], strict=True)))
        for row in found
    }


def _add_pictures(rows: dict[int, CatalogueRow], name: str, pictures: LabPictures) -> None:
    """Grain or sharpness that compares; a stock that only another rig measured has none."""
    for stock_id, row in rows.items():
        found = pictures.by_stock.get(stock_id, {}).get(name)
        row.values[name] = None if found is None or found.is_apart else found.measure.value


@lru_cache(maxsize=256)
def _formats(text: str) -> tuple[str, ...]:
    """A list of formats from the text that the database keeps; a lab has few different ones."""
    return tuple(json.loads(text))


def measured(name: str) -> Cast:
    """Return the value of a pooled measure as a number; empty where it is withheld."""
    measure = KeyTransform(name, "pooled__measures")
    return Cast(NullIf(KeyTextTransform("value", measure), Value("null")), FloatField())


def _measures_of(sort: str) -> set[str]:
    """The measure that an order needs of every stock; none for plain facts and for other differences."""
    name = sort.lstrip("-")
    if name in PLAIN_ORDERS or name in DIFFERENCE_ORDERS:
        return set()
    return {SAME_ORDER.get(name, (name, False))[0]}


#: Differences that are known only once two curves are compared: they put one sheet in order, not the lab.
DIFFERENCE_ORDERS = (
    "contrast_ratio",
    "shape_difference",
    "toe_difference",
    "middle_difference",
    "highlight_difference",
    "base_difference",
)


def _in_order(rows: list[CatalogueRow], sort: str) -> list[CatalogueRow]:
    """Stocks in order, withheld values last whichever way; rows come by name."""
    name, is_down = sort.lstrip("-"), sort.startswith("-")
    if name in DIFFERENCE_ORDERS:
        return rows
    if name in PLAIN_ORDERS:
        return sorted(rows, key=lambda row: getattr(row, PLAIN_ORDERS[name]), reverse=is_down)
    measure, is_reversed = SAME_ORDER.get(name, (name, False))
    known = [row for row in rows if row.values.get(measure) is not None]
    unknown = [row for row in rows if row.values.get(measure) is None]
    return sorted(known, key=lambda row: row.values[measure], reverse=is_down != is_reversed) + unknown


def _is_within(value: float | None, ends: tuple[float | None, float | None]) -> bool:
    low, high = ends
    if low is None and high is None:
        return True
    return value is not None and (low is None or value >= low) and (high is None or value <= high)
