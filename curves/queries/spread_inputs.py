"""What the lab's spread is estimated from: every accepted roll's curves, one for each reading of a strip."""

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from statistics import median_low

from curves.models import Roll, SpreadEstimate
from curves.queries.inputs import digest_of, engine_readings, inputs_of_rolls
from curves.queries.standing import rolls_behind, standing_rolls
from curves.sensitometry import ENGINE_VERSION, Analysis, Readings, analyse_many
from curves.sensitometry.comparing.lab_spread import (
    FEWEST_DEGREES_OF_FREEDOM,
    CurvePath,
    CurveRow,
    curve_rows,
    told_levels,
)
from curves.sensitometry.comparing.pair_spread import RollPath, pair_spreads

#: A reading of a strip makes a curve of its own where it has this share of the steps of the fullest.
FEWEST_STEPS_SHARE = 0.8
#: Lists in a strip's inputs that go with its readings of steps, and with those of the unexposed area.
OF_STEPS, OF_BASE = ("rows", "corrected_by"), ("unexposed", "unexposed_corrected_by")
DIGITS = 6


@dataclass(frozen=True)
class SpreadInputs:
    """The accepted rolls under two standards, and the curves that were read off them."""

    rolls: tuple[Roll, ...]
    #: Roll → its rows, with the analyses that they are of and held against.
    entries: Mapping[int, dict] = field(default_factory=dict)

    @property
    def rows(self) -> list[CurveRow]:
        """All curves."""
        return [CurveRow.from_dict(row) for entry in self.entries.values() for row in entry["rows"]]

    @property
    def digest(self) -> str:
        """Of everything that the estimate could change with, beside the engine."""
        return spread_digest(self.rolls)

    def basis(self) -> dict:
        """What the estimate rests on, JSON-safe: counts, and how stocks are tested here."""
        stocks = Counter(roll.batch.stock_id for roll in self.rolls)
        paths = [roll_path(roll) for roll in self.rolls]
        strips = Counter((row.path.roll, row.path.strip) for row in self.rows)
        per_roll = Counter(roll for roll, _ in strips)
        several = [count for count in stocks.values() if count > 1]
        return {
            "counts": {
                "stocks": len(stocks),
                "stocks_with_several": len(several),
                "members": len({path.member for path in paths}),
                "runs": len({path.run for path in paths}),
                "rolls": len(paths),
                "strips": len(strips),
                "curves": len(self.rows),
            },
            "habit": {
                "rolls": median_low(stocks.values()) if stocks else 1,
                "strips": median_low(per_roll.values()) if per_roll else 1,
                "readings": median_low(strips.values()) if strips else 1,
            },
        }


def roll_path(roll: Roll) -> RollPath:
    """Return who developed a roll in which run; one without a run shares it with no other."""
    if roll.run_id is None:
        return RollPath(str(roll.member_id), f"of roll {roll.pk}", str(roll.pk))
    return RollPath(str(roll.run.operator_id), str(roll.run_id), str(roll.pk))


def spread_rolls(*, process_revision_id: int, exposure_revision_id: int) -> tuple[Roll, ...]:
    """Return the rolls that count under two standards."""
    rolls = standing_rolls().filter(
        process_revision_id=process_revision_id, exposure_revision_id=exposure_revision_id
    )
    needed = ("exposure_revision", "batch__stock", "run", "current_analysis")
    light = ("current_analysis__measures", "current_analysis__detail")
    return tuple(rolls.select_related(*needed).defer(*light).order_by("pk"))


def spread_digest(rolls: Sequence[Roll]) -> str:
    """Return the digest of the rolls' analyses, and of who developed them in which run."""
    return digest_of({"rolls": [[roll.current_analysis_id, *roll_path(roll)] for roll in rolls]})


def spread_inputs(*, process_revision_id: int, exposure_revision_id: int) -> SpreadInputs:
    """Read every curve of the accepted rolls off; those of the estimate that stands are taken from it."""
    pair = {"process_revision_id": process_revision_id, "exposure_revision_id": exposure_revision_id}
    rolls = spread_rolls(**pair)
    stocks = defaultdict(list)
    for roll in rolls:
        stocks[roll.batch.stock_id].append(roll)
    if len(rolls) - len(stocks) < FEWEST_DEGREES_OF_FREEDOM:
        return SpreadInputs(rolls)
    known = _known_entries(pair)
    inputs = inputs_of_rolls([roll for roll in rolls if _key(roll, stocks) not in known])
    entries = {}
    for own in stocks.values():
        fresh = {roll.pk: inputs[roll.pk] for roll in own if roll.pk in inputs}
        made = _made_entries(own, fresh) if fresh else {}
        for roll in own:
            entries[roll.pk] = made.get(roll.pk) or known[_key(roll, stocks)]
    return SpreadInputs(rolls, entries)


def spread_between(spread: dict, test: Sequence[RollPath], reference: Sequence[RollPath]) -> dict:
    """Return the spread that a difference has to reckon with, by what the rolls of both sides share.

    Where it is not known which rolls stand behind a side, they count as sharing nothing.
    """
    return pair_spreads(told_levels(spread), test, reference) or spread["standard_deviations"]


def roll_paths_of(pooled_ids: Sequence[int]) -> dict[int, list[RollPath]]:
    """Return pooled analysis → who developed each of its rolls in which run, by one query."""
    return defaultdict(
        list, {pk: [roll_path(roll) for roll in rolls] for pk, rolls in rolls_behind(pooled_ids).items()}
    )


def _key(roll: Roll, stocks: Mapping[int, list[Roll]]) -> tuple:
    anchor = stocks[roll.batch.stock_id][0]
    return (roll.current_analysis_id, anchor.current_analysis_id, *roll_path(roll))


def _known_entries(pair: dict[str, int]) -> dict[tuple, dict]:
    estimates = SpreadEstimate.objects.filter(**pair, is_current=True, engine_version=ENGINE_VERSION)
    basis = estimates.values_list("basis", flat=True).first() or {}
    return {(entry["analysis"], entry["anchor"], *entry["path"]): entry for entry in basis.get("entries", [])}


def _made_entries(own: Sequence[Roll], inputs: Mapping[int, dict]) -> dict[int, dict]:
    """The curves of one stock's rolls, held against the first of them."""
    stock = str(own[0].batch.stock_id)
    curves = [
        (roll, strip, readings)
        for roll in own
        if roll.pk in inputs
        for strip, readings in curve_readings(inputs[roll.pk])
    ]
    analyses = analyse_many([readings for _, _, readings in curves])
    paths = [CurvePath(stock, *roll_path(roll), str(strip)) for roll, strip, _ in curves]
    anchor = own[0].current_analysis
    rows = curve_rows(list(zip(paths, analyses, strict=True)), Analysis.from_dict(anchor.as_dict()))
    entries = {
        roll.pk: {
            "analysis": roll.current_analysis_id,
            "anchor": anchor.pk,
            "path": list(roll_path(roll)),
            "rows": [],
        }
        for roll in own
        if roll.pk in inputs
    }
    for (roll, _, _), row in zip(curves, rows, strict=True):
        entries[roll.pk]["rows"].append(_rounded(row.to_dict()))
    return entries


def curve_readings(inputs: dict) -> list[tuple[int, Readings]]:
    """Return (strip, what one reading of it says) for every reading that covers nearly all of the strip."""
    found = []
    for strip in inputs["strips"]:
        by_replicate = defaultdict(list)
        for place, row in enumerate(strip["rows"]):
            by_replicate[row[2]].append(place)
        fullest = max((len(places) for places in by_replicate.values()), default=0)
        kept = [places for _, places in sorted(by_replicate.items())]
        kept = [places for places in kept if len(places) >= FEWEST_STEPS_SHARE * fullest]
        for number, places in enumerate(kept):
            # Each reading has its own share of the unexposed ones, so that their error is its own.
            bases = range(number, len(strip["unexposed"]), len(kept)) or range(len(strip["unexposed"]))
            alone = strip | {name: [strip[name][k] for k in places] for name in OF_STEPS if name in strip}
            alone |= {name: [strip[name][k] for k in bases] for name in OF_BASE if name in strip}
            found.append((strip["number"], engine_readings(inputs | {"strips": [alone]})))
    return found


def _rounded(document: dict) -> dict:
    for part in ("values", "errors"):
        document[part] = {
            name: None if value is None else round(value, DIGITS) for name, value in document[part].items()
        }
    return document
