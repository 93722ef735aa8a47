"""All that one roll's page shows: what it is, how far it is, what may be done, what it measured."""

from dataclasses import dataclass

from django.db.models import Count, Max, Min, Q

from curves.models import (
    UNEXPOSED_STEP,
    FilmStock,
    Reading,
    Remark,
    Review,
    Roll,
    RollState,
    StockResult,
    Strip,
)
from curves.models.rolls import UNDECIDED_STATES
from curves.queries.inputs import has_current_analysis
from curves.queries.roll_progress import NextStep, RollActions, next_step, roll_actions
from curves.queries.rolls import visible_roll
from curves.queries.spread_inputs import roll_path, roll_paths_of, spread_between
from curves.queries.standing import lab_spread_under
from curves.sensitometry import Analysis as EngineAnalysis
from curves.sensitometry import Comparison, compare_with_reference
from labsite.common.access import is_member
from labsite.jobs.models import Job

EARLIER_ROLLS = 5
LATEST_CORRECTIONS = 40


@dataclass(frozen=True)
class StripLine:
    """One strip with how much of it is read."""

    strip: Strip
    step_readings: int
    unexposed_readings: int

    @property
    def reading_count(self) -> int:
        """All readings that stand."""
        return self.step_readings + self.unexposed_readings


@dataclass(frozen=True)
class ReadingSpread:
    """How far apart the readings of one step lie on one strip [D]."""

    strip: int
    low: float
    high: float


@dataclass(frozen=True)
class AgainstReference:
    """The roll next to the house reference of its standards."""

    stock: FilmStock
    comparison: Comparison
    is_own_stock: bool


@dataclass(frozen=True)
class RollPage:
    """Everything that a roll's page shows."""

    roll: Roll
    strips: tuple[StripLine, ...]
    result: EngineAnalysis | None
    is_result_current: bool
    job: Job | None
    next_step: NextStep
    actions: RollActions
    reference: AgainstReference | None
    earlier: tuple[Roll, ...]
    reviews: tuple[Review, ...]
    remarks: tuple[Remark, ...]
    corrections: tuple[Reading, ...]
    spreads: dict[int, ReadingSpread]

    @property
    def has_readings(self) -> bool:
        """Whether any step is read."""
        return any(line.step_readings for line in self.strips)

    @property
    def asked_for(self) -> Review | None:
        """The review that gave the roll back, while it is returned."""
        return self.reviews[0] if self.reviews and self.roll.state == RollState.RETURNED else None


def roll_page(user, roll_id: int) -> RollPage:
    """Return what the page of one roll shows to this person."""
    roll = visible_roll(user, roll_id)
    may_look_inside = is_member(user)
    strips = _strip_lines(roll)
    has_readings = any(line.step_readings for line in strips)
    # What was decided on stands as it was decided; only what is still open can be out of date.
    is_current = has_current_analysis(roll) if roll.state in UNDECIDED_STATES else True
    job = latest_fit(roll) if may_look_inside else None
    actions = roll_actions(user, roll, has_readings=has_readings, is_fitted=is_current, job=job)
    stored = roll.current_analysis
    result = EngineAnalysis.from_dict(stored.as_dict()) if stored else None
    has_curve = result is not None and len(result.curve.log_exposure) > 0
    return RollPage(
        roll=roll,
        strips=strips,
        result=result,
        is_result_current=is_current,
        job=job,
        next_step=next_step(
            user, roll, has_readings=has_readings, is_fitted=is_current, job=job, has_curve=has_curve
        ),
        actions=actions,
        reference=_against_reference(roll, result) if result else None,
        earlier=_earlier_rolls(roll, with_curves=actions.can_review) if may_look_inside else (),
        reviews=tuple(roll.reviews.select_related("reviewer")) if may_look_inside else (),
        remarks=tuple(roll.remarks.select_related("author")) if may_look_inside else (),
        corrections=_corrections(roll) if may_look_inside else (),
        # Readings that have changed since say nothing about the curve that is shown.
        spreads=_spreads(roll) if may_look_inside and is_current else {},
    )


def latest_fit(roll: Roll) -> Job | None:
    """Return the newest fit job of the roll."""
    return Job.objects.filter(dedupe_key=f"fit_roll:{roll.pk}").order_by("-created_at").first()


def _strip_lines(roll: Roll) -> tuple[StripLine, ...]:
    standing = Q(readings__is_current=True)
    unexposed = Q(readings__step=UNEXPOSED_STEP)
    strips = roll.strips.select_related("tablet_revision__tablet").annotate(
        step_readings=Count("readings", filter=standing & ~unexposed),
        unexposed_readings=Count("readings", filter=standing & unexposed),
    )
    return tuple(
        StripLine(strip, strip.step_readings, strip.unexposed_readings) for strip in strips.order_by("number")
    )


def _spreads(roll: Roll) -> dict[int, ReadingSpread]:
    """Return step → the widest spread of its repeated readings on one strip."""
    repeated = (
        Reading.objects.filter(strip__roll=roll, is_current=True, step__gt=UNEXPOSED_STEP)
        .values("step", "strip__number")
        .annotate(low=Min("density"), high=Max("density"), count=Count("pk"))
        .filter(count__gt=1)
        .order_by("strip__number", "step")
    )
    spreads: dict[int, ReadingSpread] = {}
    for row in repeated:
        spread = ReadingSpread(row["strip__number"], row["low"], row["high"])
        widest = spreads.setdefault(row["step"], spread)
        if spread.high - spread.low > widest.high - widest.low:
            spreads[row["step"]] = spread
    return spreads


def _against_reference(roll: Roll, result: EngineAnalysis) -> AgainstReference | None:
    """Like with like: the reference of the roll's own process and exposure revision, or none."""
    pair = {
        "process_revision_id": roll.process_revision_id,
        "exposure_revision_id": roll.exposure_revision_id,
    }
    appointed = {f"stock__references__{name}": value for name, value in pair.items()}
    standing = (
        StockResult.objects.filter(**pair, **appointed, stock__references__ended_at__isnull=True)
        .select_related("stock", "pooled")
        .first()
    )
    if standing is None:
        return None
    reference = EngineAnalysis.from_dict(standing.pooled.as_dict())
    theirs = roll_paths_of([standing.pooled_id])[standing.pooled_id]
    spread = spread_between(lab_spread_under(**pair), [roll_path(roll)], theirs)
    return AgainstReference(
        stock=standing.stock,
        comparison=compare_with_reference(result, reference, lab_spread=spread),
        is_own_stock=standing.stock_id == roll.batch.stock_id,
    )


def _earlier_rolls(roll: Roll, *, with_curves: bool) -> tuple[Roll, ...]:
    """The stock's accepted rolls under the same standards, newest first."""
    rolls = (
        Roll.objects.filter(
            state=RollState.ACCEPTED,
            batch__stock=roll.batch.stock_id,
            process_revision=roll.process_revision_id,
            exposure_revision=roll.exposure_revision_id,
            current_analysis__isnull=False,
        )
        .exclude(pk=roll.pk)
        .select_related("batch", "member", "run", "current_analysis")
        .order_by("-accepted_at", "-pk")
    )
    if not with_curves:
        rolls = rolls.defer("current_analysis__detail")
    return tuple(rolls[:EARLIER_ROLLS])


def _corrections(roll: Roll) -> tuple[Reading, ...]:
    """Readings that no longer stand, with what replaced them, newest first."""
    ended = Reading.objects.filter(strip__roll=roll, is_current=False)
    ended = ended.select_related("superseded_by__read_by", "read_by", "strip")
    return tuple(ended.order_by("-ended_at", "strip__number", "step", "replicate")[:LATEST_CORRECTIONS])
