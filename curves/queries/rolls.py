"""Test rolls as people see them: who sees which, and all that one roll's page shows."""

from dataclasses import dataclass

from django.db.models import QuerySet

from curves.models import UNEXPOSED_STEP, Analysis, Reading, Remark, Review, Roll, RollState, Strip
from curves.queries.inputs import digest_of, log_exposures, roll_inputs
from curves.sensitometry import ENGINE_VERSION
from labsite.accounts.queries import current_lab
from labsite.common.access import is_admin, is_member
from labsite.common.errors import NotFound
from labsite.jobs.models import Job

#: Columns that a reading grid opens with, where nothing is read yet.
USUAL_REPLICATES = 2


def visible_rolls(user) -> QuerySet[Roll]:
    """Return the rolls that this person may see: members the whole lab's, visitors accepted ones."""
    rolls = Roll.objects.select_related(
        "batch__stock", "process_revision__standard", "exposure_revision__standard", "run", "member"
    )
    if is_member(user):
        return rolls
    if current_lab().is_open_to_visitors:
        return rolls.filter(state=RollState.ACCEPTED)
    return rolls.none()


def visible_roll(user, roll_id: int) -> Roll:
    """Return one roll that this person may see, with its standing analysis; NotFound otherwise."""
    roll = visible_rolls(user).select_related("current_analysis").filter(pk=roll_id).first()
    if roll is None:
        raise NotFound("There is no such roll, or it is not open to you.")
    return roll


@dataclass(frozen=True)
class RollActions:
    """What this person may do with the roll now."""

    can_edit: bool
    can_submit: bool
    can_recall: bool
    can_review: bool
    can_withdraw: bool
    can_void: bool
    can_override: bool
    can_remark: bool


@dataclass(frozen=True)
class RollPage:
    """Everything that a roll's page shows."""

    roll: Roll
    strips: tuple[Strip, ...]
    reading_counts: dict[int, int]
    analysis: Analysis | None
    is_analysis_current: bool
    job: Job | None
    reviews: tuple[Review, ...]
    remarks: tuple[Remark, ...]
    corrections: tuple[Reading, ...]
    actions: RollActions


def roll_page(user, roll_id: int) -> RollPage:
    """Return what the page of one roll shows to this person."""
    roll = visible_roll(user, roll_id)
    strips = tuple(roll.strips.select_related("tablet_revision__tablet"))
    readings = Reading.objects.filter(strip__in=strips)
    counts: dict[int, int] = {strip.pk: 0 for strip in strips}
    for strip_id in readings.filter(is_current=True).values_list("strip_id", flat=True):
        counts[strip_id] += 1
    analysis = roll.current_analysis
    is_current = (
        analysis is not None
        and analysis.engine_version == ENGINE_VERSION
        and analysis.input_digest == digest_of(roll_inputs(roll))
    )
    may_look_inside = is_member(user)
    return RollPage(
        roll=roll,
        strips=strips,
        reading_counts=counts,
        analysis=analysis,
        is_analysis_current=is_current,
        job=latest_fit(roll) if may_look_inside else None,
        reviews=tuple(roll.reviews.select_related("reviewer")),
        remarks=tuple(roll.remarks.select_related("author")) if may_look_inside else (),
        corrections=tuple(
            readings.filter(is_current=False)
            .select_related("superseded_by", "read_by", "strip")
            .order_by("-ended_at")
        )
        if may_look_inside
        else (),
        actions=roll_actions(user, roll, has_readings=any(counts.values()), is_fitted=is_current),
    )


def roll_actions(user, roll: Roll, *, has_readings: bool, is_fitted: bool) -> RollActions:
    """Return what this person may do; the services refuse the same, with the reason."""
    own = is_member(user) and roll.member_id == user.pk
    admin = is_admin(user)
    accepted = roll.state == RollState.ACCEPTED
    return RollActions(
        can_edit=own and roll.is_editable,
        can_submit=own and roll.is_editable and has_readings and is_fitted and roll.run_id is not None,
        can_recall=own and roll.state == RollState.SUBMITTED,
        can_review=admin and roll.state == RollState.SUBMITTED,
        can_withdraw=accepted and (own or admin),
        can_void=accepted and admin,
        can_override=accepted and admin and (roll.is_held_back or bool(roll.control_override_reason)),
        can_remark=is_member(user),
    )


def latest_fit(roll: Roll) -> Job | None:
    """Return the newest fit job of the roll."""
    return Job.objects.filter(dedupe_key=f"fit_roll:{roll.pk}").order_by("-created_at").first()


@dataclass(frozen=True)
class GridRow:
    """One line of the reading grid: a step (0: unexposed area) with its exposure and its cells."""

    step: int
    log_exposure: float | None
    tablet_density: float | None
    densities: tuple[float | None, ...]

    @property
    def name(self) -> str:
        """The step in form names."""
        return "unexposed" if self.step == UNEXPOSED_STEP else str(self.step)


@dataclass(frozen=True)
class ReadingGrid:
    """A strip's readings as a table: unexposed area first, then the tablet's steps."""

    strip: Strip
    roll: Roll
    is_absolute: bool
    replicate_count: int
    rows: tuple[GridRow, ...]
    instrument_id: int | None


def reading_grid(user, roll_id: int, strip_number: int) -> ReadingGrid:
    """Return the grid of one strip that this person may see."""
    roll = visible_roll(user, roll_id)
    strip = (
        roll.strips.select_related("tablet_revision__tablet")
        .prefetch_related("tablet_revision__steps")
        .filter(number=strip_number)
        .first()
    )
    if strip is None:
        raise NotFound(f"{roll.code} has no strip {strip_number}.")
    current = list(strip.readings.filter(is_current=True))
    cells = {(reading.step, reading.replicate): reading.density for reading in current}
    count = max([USUAL_REPLICATES, *(reading.replicate for reading in current)])
    exposures = log_exposures(strip, roll.exposure_revision.log_exposure_clear)

    def row(step: int, exposure: float | None, tablet_density: float | None) -> GridRow:
        densities = tuple(cells.get((step, replicate)) for replicate in range(1, count + 1))
        return GridRow(step, exposure, tablet_density, densities)

    steps = sorted(strip.tablet_revision.steps.all(), key=lambda s: s.step)
    return ReadingGrid(
        strip=strip,
        roll=roll,
        is_absolute=roll.exposure_revision.is_absolute,
        replicate_count=count,
        rows=(row(UNEXPOSED_STEP, None, None), *(row(s.step, exposures[s.step], s.density) for s in steps)),
        instrument_id=next((reading.instrument_id for reading in current if reading.instrument_id), None),
    )
