"""Grain and sharpness of stocks, pooled over their standing rolls: like with like, one rig at a time.

The rig that most stocks were measured with is the lab's; a stock that only another rig measured is told
apart, since scanners and settings differ by more than films do.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.db.models import Count, F, FloatField, Max, QuerySet, Value
from django.db.models.functions import Cast

from curves.models import Roll
from curves.models.picture_measures import PictureMeasure, PictureMeasureName
from curves.queries.standing import standing_rolls
from curves.sensitometry import MEASURES, Measure
from curves.sensitometry.comparing.picture_pooling import pooled_picture_measures
from curves.sensitometry.measures import withheld

NAMES: tuple[str, ...] = tuple(PictureMeasureName.values)


@dataclass(frozen=True)
class FromPicture:
    """A number that was read off a picture, with all that it rests on."""

    name: str
    value: float
    low: float | None
    high: float | None
    note: str
    rig: str
    rig_digest: str
    source_key: str
    source_name: str
    source_url: str
    engine_version: str


@dataclass(frozen=True)
class Rig:
    """A scanner with its settings, and how many stocks it measured."""

    digest: str
    words: str
    stock_count: int

    @property
    def scanner(self) -> str:
        """The scanner alone, without its settings."""
        return self.words.partition(":")[0]


@dataclass(frozen=True)
class StockPicture:
    """A stock's grain or sharpness; apart where another rig than the lab's measured it."""

    measure: Measure
    rig: Rig
    is_apart: bool


@dataclass(frozen=True)
class LabPictures:
    """What pictures tell under a pair of standards: rigs by name, the lab's first; stock → name → measure."""

    rigs: Mapping[str, tuple[Rig, ...]]
    by_stock: Mapping[int, Mapping[str, StockPicture]]

    def measures_of(self, stock_id: int) -> dict[str, Measure]:
        """Name → the measure that compares with other stocks', or why there is none."""
        return comparable_measures(self.by_stock.get(stock_id, {}))


def lab_pictures(pair_ids: Mapping[str, int], *, stock_ids: Iterable[int] | None = None) -> LabPictures:
    """Return what pictures tell of these stocks, or of all, by one query."""
    standing = _standing(pair_ids)
    wanted = standing if stock_ids is None else standing.filter(roll__batch__stock__in=tuple(stock_ids))
    # One statement for both: which rigs there are is asked of the whole lab, the numbers of few stocks.
    told = _numbers(wanted).union(_rig_counts(standing), all=True)
    rigs: dict[str, list[tuple]] = {name: [] for name in NAMES}
    rows: dict[tuple[int, str], dict[str, list[Measure]]] = {}
    for is_rig, name, digest, words, number, value, low, high in told:
        if is_rig:
            rigs[name].append((-number, -value, digest, words))
        else:
            by_rig = rows.setdefault((number, name), {})
            by_rig.setdefault(digest, []).append(Measure(name, value, low, high, MEASURES[name].unit))
    found = {
        name: tuple(Rig(digest, words, -count) for count, _, digest, words in sorted(each))
        for name, each in rigs.items()
    }
    return LabPictures(found, _by_stock(rows, found))


def _numbers(standing: QuerySet[PictureMeasure]):
    return (
        standing.order_by()
        .annotate(is_rig=Value(0), words=Value(""), number=F("roll__batch__stock_id"))
        .values_list("is_rig", "name", "rig_digest", "words", "number", "value", "low", "high")
    )


def _rig_counts(standing: QuerySet[PictureMeasure]):
    """A line for each rig in the same columns: how many stocks, and its newest measure for a tie."""
    nothing = Cast(Value(None), FloatField())
    return (
        standing.order_by()
        .values("name", "rig_digest")
        .annotate(
            is_rig=Value(1),
            words=Max("rig"),
            number=Count("roll__batch__stock", distinct=True),
            newest=Cast(Max("pk"), FloatField()),
            no_low=nothing,
            no_high=nothing,
        )
        .values_list("is_rig", "name", "rig_digest", "words", "number", "newest", "no_low", "no_high")
    )


def _by_stock(rows, rigs: Mapping[str, tuple[Rig, ...]]) -> dict[int, dict[str, StockPicture]]:
    """Each stock's rolls by the best of its rigs, pooled a name at a time."""
    place = {name: {rig.digest: number for number, rig in enumerate(rigs[name])} for name in NAMES}
    chosen: dict[str, list[tuple[int, str, list[Measure]]]] = {name: [] for name in NAMES}
    for (stock_id, name), by_rig in rows.items():
        digest = min(by_rig, key=place[name].__getitem__)
        chosen[name].append((stock_id, digest, by_rig[digest]))
    by_stock: dict[int, dict[str, StockPicture]] = {}
    for name, stocks in chosen.items():
        pooled = pooled_picture_measures(name, [rolls for _, _, rolls in stocks], MEASURES[name].unit)
        for (stock_id, digest, _), measure in zip(stocks, pooled, strict=True):
            number = place[name][digest]
            picture = StockPicture(measure, rigs[name][number], is_apart=number > 0)
            by_stock.setdefault(stock_id, {})[name] = picture
    return by_stock


def roll_picture_rows(roll: Roll) -> QuerySet[PictureMeasure]:
    """Return a roll's measures, those that stand first, then the newest."""
    related = ("taken_by", "ended_by", "roll")
    return roll.picture_measures.select_related(*related).order_by("-is_current", "name", "-pk")


def roll_pictures(roll: Roll) -> tuple[list[PictureMeasure], list[PictureMeasure]]:
    """Return a roll's measures that stand, and those that were ended."""
    rows = list(roll_picture_rows(roll))
    return [row for row in rows if row.is_current], [row for row in rows if not row.is_current]


def comparable_measures(pictures: Mapping[str, StockPicture]) -> dict[str, Measure]:
    """Return name → the measure that compares with other stocks', or why there is none."""
    measures = {}
    for name in NAMES:
        unit, picture = MEASURES[name].unit, pictures.get(name)
        if picture is None:
            measures[name] = withheld(name, "NOT_MEASURED", unit)
        elif picture.is_apart:
            measures[name] = withheld(name, "OTHER_RIG", unit, f"measured with {picture.rig.words}")
        else:
            measures[name] = picture.measure
    return measures


def _standing(pair_ids: Mapping[str, int]) -> QuerySet[PictureMeasure]:
    """Measures that stand, of rolls that count."""
    rolls = standing_rolls().filter(**pair_ids)
    return PictureMeasure.objects.filter(is_current=True, roll__in=rolls)
