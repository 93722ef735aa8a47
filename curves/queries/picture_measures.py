"""Grain and sharpness of stocks, pooled over their standing rolls: like with like, one rig at a time.

The rig that most stocks were measured with is the lab's; a stock that only another rig measured is told
apart, since scanners and settings differ by more than films do.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.db.models import Count, Max, QuerySet

from curves.models.picture_measures import PictureMeasure, PictureMeasureName
from curves.queries.standing import standing_rolls
from curves.sensitometry import MEASURES, Measure
from curves.sensitometry.comparing.picture_pooling import pooled_picture_measure
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


@dataclass(frozen=True)
class StockPicture:
    """A stock's grain or sharpness; apart where another rig than the lab's measured it."""

    measure: Measure
    rig: Rig
    is_apart: bool


#: Stock → name → what pictures of it tell.
Pictures = dict[int, dict[str, StockPicture]]


def rigs_under(pair_ids: Mapping[str, int]) -> dict[str, tuple[Rig, ...]]:
    """Return name → the rigs that measured it under a pair of standards, the lab's first."""
    counted = (
        _standing(pair_ids)
        .order_by()
        .values("name", "rig_digest")
        .annotate(words=Max("rig"), stocks=Count("roll__batch__stock", distinct=True), newest=Max("pk"))
    )
    found: dict[str, list] = {name: [] for name in NAMES}
    for row in sorted(counted, key=lambda row: (-row["stocks"], -row["newest"])):
        found[row["name"]].append(Rig(row["rig_digest"], row["words"], row["stocks"]))
    return {name: tuple(rigs) for name, rigs in found.items()}


def picture_measures(
    pair_ids: Mapping[str, int],
    rigs: Mapping[str, tuple[Rig, ...]],
    *,
    stock_ids: Iterable[int] | None = None,
    names: Iterable[str] = NAMES,
) -> Pictures:
    """Return what pictures tell of these stocks, or of all: two queries with ``rigs_under``, however many."""
    if not any(rigs.get(name) for name in names):
        return {}
    standing = _standing(pair_ids).filter(name__in=tuple(names))
    if stock_ids is not None:
        standing = standing.filter(roll__batch__stock__in=tuple(stock_ids))
    by_digest = {name: {rig.digest: rig for rig in rigs[name]} for name in names}
    rows: dict[tuple[int, str], dict[str, list[Measure]]] = {}
    told = standing.values_list("roll__batch__stock_id", "name", "rig_digest", "value", "low", "high")
    for stock_id, name, digest, value, low, high in told:
        by_rig = rows.setdefault((stock_id, name), {})
        by_rig.setdefault(digest, []).append(Measure(name, value, low, high, MEASURES[name].unit))
    pictures: Pictures = {}
    for (stock_id, name), by_rig in rows.items():
        place = {digest: number for number, digest in enumerate(by_digest[name])}
        digest = min(by_rig, key=lambda each: place.get(each, len(place)))
        if digest not in by_digest[name]:  # taken since the rigs were counted
            continue
        pictures.setdefault(stock_id, {})[name] = StockPicture(
            measure=pooled_picture_measure(name, by_rig[digest], MEASURES[name].unit),
            rig=by_digest[name][digest],
            is_apart=place[digest] > 0,
        )
    return pictures


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
