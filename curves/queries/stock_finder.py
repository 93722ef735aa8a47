"""Which stocks do for a purpose: asked by what is wished of their measures, answered within their intervals.

There are no marks and no ranks: a stock does certainly, perhaps, or not, and of the last two is said why.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from django.db.models.fields.json import KeyTransform

from curves.models import Purpose, StockResult, Verdict, VerdictState
from curves.queries.comparison import StandardPair, standard_pairs
from curves.queries.comparison_rows import CONTRAST, GRAIN, SHARPNESS, SPEED
from curves.queries.picture_measures import LabPictures, lab_pictures
from curves.queries.stocks import visible_results
from curves.queries.verdicts import visible_verdicts
from curves.sensitometry import MEASURES, REASONS, Measure
from curves.sensitometry.comparing.suitability import (
    CERTAIN,
    EXCLUDED,
    POSSIBLE,
    all_wishes,
    wish_met,
)
from curves.sensitometry.measures import withheld
from labsite.common.errors import NotFound

HIGHLIGHTS, RANGE, TOE = "highlight_gradient", "useful_range", "toe_length"
#: What can be wished of: name in addresses → measure.
WISHED = {
    "speed": SPEED,
    "contrast": CONTRAST,
    "toe": TOE,
    "highlights": HIGHLIGHTS,
    "range": RANGE,
    "grain": GRAIN,
    "sharpness": SHARPNESS,
}


@dataclass(frozen=True)
class Wishes:
    """What is asked for: any of these purposes, and of each named measure a range."""

    purposes: tuple[str, ...] = ()
    ranges: Mapping[str, tuple[float | None, float | None]] = field(default_factory=dict)

    def __bool__(self) -> bool:
        return bool(self.purposes or self.ranges)


@dataclass(frozen=True)
class WishAnswer:
    """One wish and how a stock answers it; ``why`` tells of what is open in words."""

    name: str
    measure: Measure | None
    verdict: str
    why: str = ""


@dataclass(frozen=True)
class FoundStock:
    """One stock with its answer to every wish, and what members say of it."""

    result: StockResult
    answers: tuple[WishAnswer, ...]
    verdicts: tuple[Verdict, ...]

    @property
    def verdict(self) -> str:
        """What the answers come to."""
        return all_wishes(answer.verdict for answer in self.answers)

    @property
    def open_answers(self) -> tuple[WishAnswer, ...]:
        """What keeps it from being certain."""
        return tuple(answer for answer in self.answers if answer.verdict == POSSIBLE)

    @property
    def against(self) -> tuple[WishAnswer, ...]:
        """What speaks against it."""
        return tuple(answer for answer in self.answers if answer.verdict == EXCLUDED)


@dataclass(frozen=True)
class StockFinder:
    """The lab's stocks by how they answer the wishes, each group by name."""

    pairs: tuple[StandardPair, ...]
    pair: StandardPair | None
    certain: tuple[FoundStock, ...] = ()
    possible: tuple[FoundStock, ...] = ()
    excluded: tuple[FoundStock, ...] = ()


def stock_finder(user, wishes: Wishes, *, pair_key: str = "") -> StockFinder:
    """Return which stocks do for these wishes under one pair of standards."""
    pairs = standard_pairs(user)
    pair = next((each for each in pairs if each.key == pair_key or not pair_key), None)
    if pair_key and pair is None:
        raise NotFound(
            "No stock has a result under these standards, or they are not open to you.", field="standards"
        )
    if pair is None:
        return StockFinder(pairs, None)
    pictures, said = lab_pictures(pair.ids), _verdicts(user, pair)
    groups: dict[str, list[FoundStock]] = {CERTAIN: [], POSSIBLE: [], EXCLUDED: []}
    for result in _results(user, pair):
        found = _found(result, wishes, pictures, said.get(result.stock_id, ()))
        groups[found.verdict].append(found)
    # What is nearest to certain first; the order is by name within.
    groups[POSSIBLE].sort(key=lambda found: len(found.open_answers))
    return StockFinder(pairs, pair, *(tuple(groups[each]) for each in (CERTAIN, POSSIBLE, EXCLUDED)))


def _results(user, pair: StandardPair):
    """Standing results with just the measures that can be wished of."""
    results = visible_results(user).filter(**pair.ids).order_by("stock__name", "stock__maker")
    curve_measures = {f"{name}_stored": KeyTransform(name, "pooled__measures") for name in _CURVE_MEASURES}
    return results.defer("pooled__measures", "pooled__detail").annotate(**curve_measures)


_CURVE_MEASURES = tuple(name for name in WISHED.values() if name not in (GRAIN, SHARPNESS))


def _verdicts(user, pair: StandardPair) -> dict[int, list[Verdict]]:
    approved = visible_verdicts(user).filter(state=VerdictState.APPROVED, **pair.ids)
    said: dict[int, list[Verdict]] = {}
    for verdict in approved:
        said.setdefault(verdict.stock_id, []).append(verdict)
    return said


def _found(result, wishes: Wishes, pictures: LabPictures, verdicts) -> FoundStock:
    measures = pictures.measures_of(result.stock_id)
    answers = [_purpose_answer(wishes.purposes, verdicts)] if wishes.purposes else []
    for name, (low, high) in wishes.ranges.items():
        measure = measures.get(WISHED[name]) or _stored(result, WISHED[name])
        why = "" if measure.value is not None else REASONS.get(measure.reason, "It is withheld.")
        answers.append(WishAnswer(name, measure, wish_met(measure, low, high), why))
    return FoundStock(result, tuple(answers), _fitting_first(wishes.purposes, verdicts))


def _stored(result, name: str) -> Measure:
    stored = getattr(result, f"{name}_stored")
    if stored is None:
        return withheld(name, "NOT_MEASURED", MEASURES[name].unit)
    return Measure.from_dict(name, stored)


def _purpose_answer(purposes: tuple[str, ...], verdicts) -> WishAnswer:
    if not verdicts:
        return WishAnswer("purpose", None, POSSIBLE, "No member has said yet what it is for.")
    named = {each for verdict in verdicts for each in verdict.purposes}
    if named & set(purposes):
        return WishAnswer("purpose", None, CERTAIN)
    words = ", ".join(Purpose(each).label for each in sorted(named) if each in Purpose.values)
    return WishAnswer("purpose", None, EXCLUDED, f"Members name it for {words}.")


def _fitting_first(purposes: tuple[str, ...], verdicts) -> tuple[Verdict, ...]:
    return tuple(sorted(verdicts, key=lambda verdict: not set(verdict.purposes) & set(purposes)))
