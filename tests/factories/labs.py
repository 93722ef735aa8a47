"""A lab as its visitors find it, and one with stocks to read about."""

from curves.models import ExposureRevision, FilmStock, ProcessRevision
from curves.services.references import appoint_reference
from labsite.accounts.models import Lab
from tests.factories.rolls import make_accepted_roll, make_batch, make_run, make_standards
from tests.factories.standards import make_exposure, make_process


def open_lab(name="Test Lab") -> None:
    """Let visitors read."""
    Lab.objects.update_or_create(pk=1, defaults={"is_open_to_visitors": True, "name": name})


def lab_standards(admin):
    """The lab's one pair of standards in force; made where it has none."""
    process, exposure = ProcessRevision.objects.first(), ExposureRevision.objects.first()
    return (process, exposure) if process else make_standards(admin)


def make_other_standards(admin, name):
    """One more pair of standards in force."""
    return make_process(admin, f"{name} process"), make_exposure(admin, f"{name} light")


def make_stocks(owner, admin, standards) -> dict[str, FilmStock]:
    """A reference of two rolls (alder), a stock a stop faster (birch), and one without a result (cedar)."""
    run = make_run(owner, standards[0])
    alder, birch = make_batch(owner, "Alder 100"), make_batch(owner, "Birch 200", box_speed=200)
    cedar = make_batch(owner, "Cedar 50", box_speed=50)
    for seed in (1, 2):
        make_accepted_roll(owner, admin, alder, standards, run=run, seed=seed)
    make_accepted_roll(owner, admin, birch, standards, run=run, seed=3, speed_point=-1.9)
    appoint_reference(
        actor=admin,
        stock_id=alder.stock_id,
        process_revision_id=standards[0].pk,
        exposure_revision_id=standards[1].pk,
    )
    return {"alder": alder.stock, "birch": birch.stock, "cedar": cedar.stock}
