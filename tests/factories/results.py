"""Standing results of known curves as bare rows: each curve is fitted once for all the tests of a run."""

from functools import cache

import numpy as np

from curves.models import FilmStock, HouseReference, PooledAnalysis, StockResult
from curves.sensitometry import Readings, analyse_readings
from tests.factories.rolls import BASE_FOG, soft_toe_densities
from tests.factories.standing import stock_row


@cache
def fitted(*, seed=1, noise=0.003, clear=0.9, base_change=0.0, **shape) -> dict:
    """The engine's dictionary of a soft-toe curve exposed through a tablet of 21 steps."""
    rng = np.random.default_rng(seed)
    x = clear - np.arange(0.05, 3.06, 0.15)
    truth = soft_toe_densities(x, **shape) + base_change
    return analyse_readings(
        Readings(
            log_exposure=np.repeat(x, 2),
            density=np.repeat(truth, 2) + rng.normal(0, noise, 2 * x.size),
            unexposed=BASE_FOG + base_change + rng.normal(0, noise, 3),
            exposure="absolute",
        )
    ).to_dict()


def standing_result(member, process, exposure, *, name="Alder 100", **how) -> StockResult:
    """A stock of a known curve with its standing result under two revisions."""
    found = dict(fitted(**how))
    stock = FilmStock.objects.filter(name=name).first() or stock_row(member, name)
    pair = {"stock": stock, "process_revision": process, "exposure_revision": exposure}
    pooled = PooledAnalysis.objects.create(
        **pair,
        engine_version=found["engine_version"],
        input_digest=f"{stock.pk:064d}",
        measures=found.pop("measures"),
        detail=found,
        roll_count=1,
    )
    return StockResult.objects.create(**pair, pooled=pooled)


def appoint(member, result: StockResult) -> HouseReference:
    """Make a result's stock the house reference under its revisions."""
    return HouseReference.objects.create(
        stock=result.stock,
        process_revision=result.process_revision,
        exposure_revision=result.exposure_revision,
        appointed_by=member,
    )
