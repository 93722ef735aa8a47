"""A small lab whose stocks are compared."""

from curves.services.references import appoint_reference
from tests.factories.rolls import make_accepted_roll, make_batch, make_run, make_standards


def make_compared_lab(owner, admin):
    """A reference and two stocks, one of them a stop faster, under one pair of standards."""
    standards = make_standards(admin)
    run = make_run(owner, standards[0])
    speeds = {"Alder 100": -1.6, "Birch 200": -1.9, "Cedar 100": -1.6}
    stocks = {}
    for seed, (name, speed_point) in enumerate(speeds.items()):
        batch = make_batch(owner, name=name)
        make_accepted_roll(owner, admin, batch, standards, run=run, seed=seed, speed_point=speed_point)
        stocks[name] = batch.stock
    appoint_reference(
        actor=admin,
        stock_id=stocks["Alder 100"].pk,
        process_revision_id=standards[0].pk,
        exposure_revision_id=standards[1].pk,
    )
    return stocks
