"""A lab of many stocks made quickly: bulk rows from a few real analyses, each moved a little in speed.

What is measured on it is how pages take the number of stocks, not what the engine says of them.
"""

from datetime import UTC, datetime
from functools import cache

import numpy as np

from curves.models import (
    Analysis,
    Batch,
    FilmStock,
    HouseReference,
    PooledAnalysis,
    Roll,
    RollState,
    SpreadEstimate,
    StockResult,
)
from curves.sensitometry import (
    ENGINE_VERSION,
    LabSpread,
    Readings,
    analyse_many,
    estimate_lab_spread,
    pool_analyses,
)
from curves.sensitometry.comparing.lab_spread import CurvePath, curve_rows

KINDS = 8
FORMATS = (["35 mm", "120"], ["35 mm"], ["120", "sheet"], ["sheet"])
ACCEPTED_AT = datetime(2026, 5, 4, tzinfo=UTC)
ZERO = 3.2


def make_many_stocks(member, standards, *, stocks: int, rolls: int = 5, seed: int = 7) -> list[FilmStock]:
    """Make this many stocks with accepted rolls, results, a reference and the lab's spread."""
    documents, pooled, spread, drawn = _fitted(rolls, seed)
    rng = np.random.default_rng(seed)
    rng.bit_generator.state = drawn
    films = _films(member, stocks)
    shifts = np.round(rng.uniform(-0.6, 0.6, stocks), 3)
    _store(member, standards, films, shifts, documents, pooled, rolls)
    process, exposure = standards
    pair = {"process_revision": process, "exposure_revision": exposure}
    HouseReference.objects.create(stock=films[0], **pair, appointed_by=member)
    SpreadEstimate.objects.create(**pair, engine_version=ENGINE_VERSION, input_digest="0" * 64, spread=spread)
    return films


@cache
def _fitted(rolls: int, seed: int) -> tuple:
    """Documents of rolls and of what they pool to, a kind each; the spread; how far numbers were drawn."""
    from tests.sensitometry.truths import SMOOTH, draw_truth, readings_of

    rng = np.random.default_rng(seed)
    readings = []
    for kind in SMOOTH[:KINDS]:
        truth = draw_truth(kind, rng)
        for _ in range(rolls):
            steps, density, base = readings_of(truth, rng, strips=1, unexposed=3)
            readings.append(Readings(steps - ZERO + rng.normal(0, 0.02), density[0], base))
    analyses = analyse_many(readings, box_speeds=[100.0] * len(readings))
    families = [analyses[number * rolls : (number + 1) * rolls] for number in range(KINDS)]
    documents = [[roll.to_dict() for roll in family] for family in families]
    pooled = [pool_analyses(family).to_dict() for family in families]
    return documents, pooled, _spread(families).to_dict(), rng.bit_generator.state


def _spread(families) -> LabSpread:
    """Each roll by itself, in a run of its own."""
    rows = []
    for stock, family in enumerate(families):
        names = [f"{stock} {number}" for number in range(len(family))]
        paths = [CurvePath(str(stock), "member", name, name, "1") for name in names]
        rows += curve_rows(list(zip(paths, family, strict=True)), family[0])
    return estimate_lab_spread(rows)


def _films(member, count: int) -> list[FilmStock]:
    return FilmStock.objects.bulk_create(
        FilmStock(
            name=f"Emulsion {number:04d}",
            maker=f"Maker {number % 23}",
            box_speed=(25, 50, 100, 200, 400)[number % 5],
            formats=FORMATS[number % 4],
            is_in_production=number % 7 != 0,
            created_by=member,
        )
        for number in range(count)
    )


def _store(member, standards, films, shifts, documents, pooled, rolls: int) -> None:
    process, exposure = standards
    pair = {"process_revision": process, "exposure_revision": exposure}
    batches = Batch.objects.bulk_create(
        Batch(stock=film, emulsion_number="0417", created_by=member) for film in films
    )
    made = Roll.objects.bulk_create(
        [
            Roll(batch=batch, **pair, member=member, state=RollState.ACCEPTED, accepted_at=ACCEPTED_AT)
            for batch in batches
            for _ in range(rolls)
        ],
        batch_size=500,
    )
    analyses = Analysis.objects.bulk_create(
        [
            Analysis(roll=roll, input_digest="0" * 64, **_columns(_moved(source, shift)))
            for number, shift in enumerate(shifts)
            for roll, source in zip(
                made[number * rolls : (number + 1) * rolls], documents[number % KINDS], strict=True
            )
        ],
        batch_size=200,
    )
    for roll, analysis in zip(made, analyses, strict=True):
        roll.current_analysis = analysis
    Roll.objects.bulk_update(made, ["current_analysis"], batch_size=200)
    results = PooledAnalysis.objects.bulk_create(
        [
            PooledAnalysis(
                stock=film,
                **pair,
                input_digest="0" * 64,
                roll_count=rolls,
                **_columns(_moved(pooled[number % KINDS], shift)),
            )
            for number, (film, shift) in enumerate(zip(films, shifts, strict=True))
        ],
        batch_size=100,
    )
    through = PooledAnalysis.analyses.through
    through.objects.bulk_create(
        [
            through(pooledanalysis_id=result.pk, analysis_id=analysis.pk)
            for number, result in enumerate(results)
            for analysis in analyses[number * rolls : (number + 1) * rolls]
        ],
        batch_size=400,
    )
    StockResult.objects.bulk_create(
        StockResult(stock=film, **pair, pooled=result) for film, result in zip(films, results, strict=True)
    )


def _columns(document: dict) -> dict:
    measures = document["measures"]
    detail = {name: value for name, value in document.items() if name != "measures"}
    return {"engine_version": ENGINE_VERSION, "measures": measures, "detail": detail}


def _moved(document: dict, shift: float) -> dict:
    """The same film, faster or slower: its curve, its speed point and its index moved."""
    curve = document["curve"]
    exposures = [round(value + float(shift), 5) for value in curve["log_exposure"]]
    measures = dict(document["measures"])
    for name in ("speed_point_log_exposure", "exposure_index"):
        measure = measures[name]
        moved = {
            end: None if measure[end] is None else _shifted(name, measure[end], float(shift))
            for end in ("value", "low", "high")
        }
        measures[name] = measure | moved
    return document | {"curve": curve | {"log_exposure": exposures}, "measures": measures}


def _shifted(name: str, value: float, shift: float) -> float:
    return round(value * 10**-shift, 4) if name == "exposure_index" else round(value + shift, 6)
