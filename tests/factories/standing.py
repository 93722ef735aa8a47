"""Rolls and standing results as bare rows, for tests that are not about how they came about."""

from curves.models import Batch, FilmStock, PooledAnalysis, Reading, Roll, RollState, StockResult, Strip


def stock_row(member, name="Aldermoor 100") -> FilmStock:
    """A film stock."""
    return FilmStock.objects.create(name=name, maker="Fenwick Works", box_speed=100, created_by=member)


def roll_row(member, process, exposure, *, stock=None, state=RollState.ACCEPTED, run=None) -> Roll:
    """A roll in any state, with one strip and no readings."""
    stock = stock or FilmStock.objects.first() or stock_row(member)
    batch, _ = Batch.objects.get_or_create(
        stock=stock, emulsion_number="0417", defaults={"created_by": member}
    )
    roll = Roll.objects.create(
        batch=batch,
        exposure_revision=exposure,
        process_revision=process,
        member=member,
        state=state,
        run=run,
    )
    Strip.objects.create(roll=roll, tablet_revision=exposure.tablet.revisions.get(state="in_force"))
    return roll


def reading_row(roll, instrument, *, step=5, density=0.42) -> Reading:
    """One current reading on the roll's first strip."""
    return Reading.objects.create(
        strip=roll.strips.get(number=1),
        step=step,
        density=density,
        instrument=instrument,
        read_by=roll.member,
    )


def result_row(stock, process, exposure, *, roll_count=1) -> StockResult:
    """A standing result of a stock under two revisions."""
    pair = {"stock": stock, "process_revision": process, "exposure_revision": exposure}
    pooled = PooledAnalysis.objects.create(
        **pair,
        engine_version="0",
        input_digest=f"{stock.pk:064d}",
        measures={},
        detail={},
        roll_count=roll_count,
    )
    return StockResult.objects.create(**pair, pooled=pooled)
