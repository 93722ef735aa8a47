"""What waits for a person, how the lab stands today, and what a visitor sees first."""

from dataclasses import dataclass

from django.db.models import Exists, OuterRef, QuerySet, Subquery

from curves.models import (
    UNEXPOSED_STEP,
    Analysis,
    HouseReference,
    Reading,
    Review,
    Roll,
    RollState,
    StockResult,
)
from curves.queries.comparison import StandardPair, standard_pairs
from curves.queries.control_today import ProcessToday, control_today
from curves.queries.inputs import rolls_with_current_analysis
from curves.queries.reviews import submitted_rolls
from curves.queries.roll_progress import NextStep, has_other_admin, next_step
from curves.queries.rolls import visible_rolls
from curves.queries.runs import RunRow, run_rows, visible_runs
from curves.queries.standing import overrides_in
from curves.queries.stocks import visible_results
from labsite.common.access import is_admin, require_member
from labsite.jobs.models import Job
from labsite.jobs.queries import QueueHealth, queue_health, visible_jobs

OPEN_STATES = (RollState.DRAFT, RollState.RETURNED, RollState.SUBMITTED)
#: More open rolls than this are looked up in the list of rolls.
MOST_ROLLS = 40
SHOWN_REVIEWS = 5
SHOWN_JOBS = 6
SHOWN_RUNS = 5
NEWEST_RESULTS = 6


@dataclass(frozen=True)
class BenchRoll:
    """One open roll of the reader's with its next step; ``asked`` is the review that returned it."""

    roll: Roll
    step: NextStep
    asked: Review | None
    first_strip: int


@dataclass(frozen=True)
class Bench:
    """What a member has to do, what they wait for, and how the lab stands."""

    returned: tuple[BenchRoll, ...]
    mine: tuple[BenchRoll, ...]
    elsewhere: tuple[BenchRoll, ...]
    is_cut: bool
    reviews: tuple[Roll, ...]
    review_count: int
    jobs: tuple[Job, ...]
    health: QueueHealth
    runs: tuple[RunRow, ...]
    control: tuple[ProcessToday, ...]
    compared: StandardPair | None
    compared_stock_ids: tuple[int, ...]
    is_newcomer: bool


@dataclass(frozen=True)
class FrontDesk:
    """What a visitor of an open lab sees first, under the standards with most results in force."""

    pair: StandardPair | None
    reference: StockResult | None
    newest: tuple[StockResult, ...]
    overrides: dict[int, tuple[str, ...]]
    stock_count: int


def bench(user) -> Bench:
    """Return what waits for this member; many rolls take no more queries than one."""
    require_member(user)
    rolls = _open_rolls_of(user)
    lines = _with_steps(user, rolls[:MOST_ROLLS])
    returned = tuple(line for line in lines if line.roll.state == RollState.RETURNED)
    others = [line for line in lines if line.roll.state != RollState.RETURNED]
    reviews = _reviews_asked_of(user)
    accepted = Roll.objects.filter(member=user, state=RollState.ACCEPTED)
    pair = next(iter(standard_pairs(user)), None)
    return Bench(
        returned=returned,
        mine=tuple(line for line in others if line.step.is_mine and line.step.code != "wait_for_curve"),
        elsewhere=tuple(
            line for line in others if not line.step.is_mine or line.step.code == "wait_for_curve"
        ),
        is_cut=len(rolls) > MOST_ROLLS,
        reviews=tuple(reviews[:SHOWN_REVIEWS]),
        review_count=reviews.count(),
        jobs=tuple(visible_jobs(user).exclude(state__in=Job.ENDED).order_by("created_at")[:SHOWN_JOBS]),
        health=queue_health(),
        runs=tuple(run_rows(visible_runs(user).order_by("-ran_on", "-pk")[:SHOWN_RUNS])),
        control=control_today(),
        compared=pair,
        compared_stock_ids=_stocks_to_compare(accepted, pair) if pair else (),
        is_newcomer=not rolls and not accepted.exists(),
    )


def front_desk(user) -> FrontDesk:
    """Return what a visitor sees first."""
    pair = next(iter(standard_pairs(user)), None)
    if pair is None:
        return FrontDesk(None, None, (), {}, 0)
    results = visible_results(user).filter(**_under(pair))
    accepted = Analysis.objects.filter(pooled_in=OuterRef("pooled")).order_by("-roll__accepted_at")
    newest = results.annotate(newest_accepted_at=Subquery(accepted.values("roll__accepted_at")[:1]))
    reference = results.filter(stock__in=_reference_stocks(pair)).first()
    others = newest.exclude(stock=reference.stock_id) if reference else newest
    shown = tuple(others.order_by("-newest_accepted_at", "-pk")[:NEWEST_RESULTS])
    return FrontDesk(
        pair=pair,
        reference=reference,
        newest=shown,
        overrides=overrides_in((reference, *shown) if reference else shown),
        stock_count=pair.stock_count,
    )


def _open_rolls_of(user) -> list[Roll]:
    rolls = visible_rolls(user).filter(member=user, state__in=OPEN_STATES)
    is_read = Reading.objects.filter(strip__roll=OuterRef("pk"), is_current=True, step__gt=UNEXPOSED_STEP)
    rolls = rolls.select_related("current_analysis").defer(
        "current_analysis__measures", "current_analysis__detail"
    )
    rolls = rolls.annotate(has_readings=Exists(is_read)).prefetch_related("strips")
    return list(rolls.order_by("-updated_at", "-pk")[: MOST_ROLLS + 1])


def _with_steps(user, rolls: list[Roll]) -> list[BenchRoll]:
    fitted = rolls_with_current_analysis(rolls)
    keys = {f"fit_roll:{roll.pk}": roll.pk for roll in rolls}
    live = Job.objects.filter(dedupe_key__in=keys).exclude(state__in=Job.ENDED).order_by("created_at")
    jobs = {keys[job.dedupe_key]: job for job in live}
    returns = Review.objects.filter(
        roll__in=[roll for roll in rolls if roll.state == RollState.RETURNED],
        decision=RollState.RETURNED,
    )
    asked = {review.roll_id: review for review in returns.select_related("reviewer").order_by("pk")}
    return [
        BenchRoll(
            roll=roll,
            step=next_step(
                user,
                roll,
                has_readings=roll.has_readings,
                is_fitted=roll.pk in fitted,
                job=jobs.get(roll.pk),
            ),
            asked=asked.get(roll.pk),
            first_strip=min((strip.number for strip in roll.strips.all()), default=1),
        )
        for roll in rolls
    ]


def _reviews_asked_of(user) -> QuerySet[Roll]:
    """Submitted rolls that this person may decide on, longest waiting first."""
    if not is_admin(user):
        return Roll.objects.none()
    waiting = submitted_rolls().select_related("batch__stock", "member", "run")
    return waiting.exclude(member=user) if has_other_admin(user) else waiting


def _stocks_to_compare(accepted: QuerySet[Roll], pair: StandardPair) -> tuple[int, ...]:
    """The stocks of the member's latest accepted rolls, to begin a comparison with."""
    latest = accepted.filter(**_under(pair)).order_by("-accepted_at").values_list("batch__stock", flat=True)
    return tuple(dict.fromkeys(latest[:12]))[:3]


def _reference_stocks(pair: StandardPair) -> QuerySet:
    appointed = HouseReference.objects.filter(**_under(pair), ended_at__isnull=True)
    return appointed.values("stock")


def _under(pair: StandardPair) -> dict[str, int]:
    return {
        "process_revision_id": pair.process_revision_id,
        "exposure_revision_id": pair.exposure_revision_id,
    }
