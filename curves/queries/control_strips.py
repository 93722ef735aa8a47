"""Control strips as people read them: of one run, the batches of strips, and the aims they are held to."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db.models import Count, Max, QuerySet

from curves.models import (
    ControlAims,
    ControlStrip,
    ProcessRevision,
    ProcessRun,
    RevisionState,
    StripBatch,
    StripJudgement,
)
from curves.models.processes import ControlState
from curves.queries.strip_windows import StripPoint, standing_strips, strip_points
from curves.sensitometry.codes import REASONS
from curves.sensitometry.controlling.aims import StripAims
from curves.sensitometry.controlling.control_strips import QUANTITIES
from curves.sensitometry.controlling.rule_definitions import RULE_SETS
from labsite.common.access import is_admin, is_member
from labsite.common.errors import NotAllowed, NotFound

PLACE_WORDS = {"within": "within", "warning": "beyond the warning limit", "action": "beyond the action limit"}


@dataclass(frozen=True)
class DeviationRow:
    """One quantity of a run's strips against its aim."""

    quantity: str
    title: str
    value: float
    difference: dict
    aim: dict | None
    place: str
    rules: tuple[str, ...]


@dataclass(frozen=True)
class ShownJudgement:
    """What the strips of one batch say of a run, in rows and words."""

    judgement: StripJudgement
    text: str
    rows: tuple[DeviationRow, ...]
    causes: tuple[dict, ...]
    causes_note: str
    false_alarm_strips: float | None
    rule_set: str


@dataclass(frozen=True)
class RunStrips:
    """The strips of one run, and what they say of it."""

    strips: tuple[ControlStrip, ...]
    struck: tuple[ControlStrip, ...]
    judgements: tuple[ShownJudgement, ...]


@dataclass(frozen=True)
class AimRow:
    """Aim and limits of one quantity."""

    title: str
    aim: dict


@dataclass(frozen=True)
class AimsPage:
    """One set of aims with what it stands on."""

    aims: ControlAims
    rows: tuple[AimRow, ...]
    offsets: tuple[tuple[str, dict], ...]
    suspects: tuple[str, ...]
    run_ids: tuple[int, ...]
    rule_set: str
    is_provisional: bool


def run_strips(run: ProcessRun) -> RunStrips:
    """Return the strips that were developed with a run, and what they say of it."""
    strips = list(run.control_strips.select_related("batch", "instrument", "read_by"))
    judgements = run.strip_judgements.filter(is_current=True).select_related("strip_batch", "aims")
    return RunStrips(
        strips=tuple(strip for strip in strips if strip.is_current),
        struck=tuple(strip for strip in strips if not strip.is_current),
        judgements=tuple(_shown(each) for each in judgements.order_by("strip_batch")),
    )


def strip_batches(user) -> QuerySet[StripBatch]:
    """Return the batches of strips, newest first, with how many were read and when last; for members."""
    if not is_member(user):
        return StripBatch.objects.none()
    return StripBatch.objects.annotate(
        strip_count=Count("strips"), last_run_on=Max("strips__run__ran_on")
    ).order_by("-pk")


def strip_to_strike(user, strip_id: int) -> ControlStrip:
    """Return a strip that stands and that this person may be about to strike out."""
    strips = ControlStrip.objects.select_related("run__revision__standard", "batch")
    strip = strips.filter(pk=strip_id).first() if is_member(user) else None
    if strip is None:
        raise NotFound("There is no such control strip.")
    if strip.run.operator_id != user.pk and not is_admin(user):
        raise NotAllowed("Only the run's operator or an admin may strike out its strips.")
    return strip


def visible_aims(user) -> QuerySet[ControlAims]:
    """Return every set of aims, drafts first, then those in force; for members."""
    if not is_member(user):
        return ControlAims.objects.none()
    aims = ControlAims.objects.select_related("process_revision__standard", "strip_batch", "created_by")
    return aims.order_by("state", "process_revision__standard__name", "-process_revision__number", "-number")


def aims_page(user, aims_id: int) -> AimsPage:
    """Return one set of aims with what it stands on."""
    aims = visible_aims(user).filter(pk=aims_id).first()
    if aims is None:
        raise NotFound("There are no such aims.")
    engine_aims = StripAims.from_dict(aims.aims)
    points = strip_points(aims.strips.all())
    shown = aims.aims["aims"]
    offsets = (aims.offset or {}).get("offsets", {})
    return AimsPage(
        aims=aims,
        rows=tuple(AimRow(QUANTITIES[name], shown[name]) for name in QUANTITIES if name in shown),
        offsets=tuple((QUANTITIES[name], offsets[name]) for name in QUANTITIES if name in offsets),
        suspects=_suspects(engine_aims, points) if aims.basis == "strips" else (),
        run_ids=tuple(dict.fromkeys(point.run_id for point in points)),
        rule_set=RULE_SETS[aims.rules].title,
        is_provisional=engine_aims.is_provisional,
    )


def points_for_aims(
    process_revision_id: int, batch_id: int, *, count: int, left_out: Iterable[int] = ()
) -> list[StripPoint]:
    """Return the latest runs with a strip of the batch that are not out of control, oldest first."""
    strips = standing_strips().filter(run__revision_id=process_revision_id, batch_id=batch_id)
    strips = strips.exclude(run__control_state=ControlState.OUT_OF_CONTROL).exclude(run_id__in=list(left_out))
    latest = strips.order_by("-run__ran_on", "-run_id").values_list("run_id", flat=True)
    runs = list(dict.fromkeys(latest))[:count]
    return strip_points(strips.filter(run_id__in=runs))


def overlap_points(
    process_revision_id: int, old_batch_id: int, new_batch_id: int
) -> tuple[list[StripPoint], list[StripPoint]]:
    """Return the strips of two batches that were developed in the same runs, each strip by itself."""
    strips = standing_strips().filter(run__revision_id=process_revision_id)
    new = strips.filter(batch_id=new_batch_id)
    old = strips.filter(batch_id=old_batch_id)
    shared = set(new.values_list("run_id", flat=True)) & set(old.values_list("run_id", flat=True))
    # Replicates are what the offset's spread is told by, so they are not averaged first.
    return (
        strip_points(old.filter(run_id__in=shared), singly=True),
        strip_points(new.filter(run_id__in=shared), singly=True),
    )


def revisions_with_strips() -> QuerySet[ProcessRevision]:
    """Return the process revisions under which a control strip was ever read, newest first."""
    revisions = ProcessRevision.objects.filter(runs__control_strips__isnull=False).distinct()
    return revisions.select_related("standard").order_by("state", "standard__name", "-number")


def revisions_for_aims() -> QuerySet[ProcessRevision]:
    """Return the process revisions that strips can be held to: in force first, then those superseded."""
    revisions = ProcessRevision.objects.exclude(state=RevisionState.DRAFT).select_related("standard")
    return revisions.order_by("state", "standard__name", "-number")


def _suspects(aims: StripAims, points: Sequence[StripPoint]) -> tuple[str, ...]:
    return tuple(
        f"Run {points[index].run_id}: {QUANTITIES[quantity].lower()} lies beyond limits drawn from it and "
        "the others. Look at it, and draft the aims without it if it was not in control."
        for index, quantity in aims.suspects
        if index < len(points)
    )


def _shown(judgement: StripJudgement) -> ShownJudgement:
    verdict = judgement.verdict
    aims = judgement.aims.aims["aims"] if judgement.aims else {}
    broken: dict[str, list[str]] = {}
    for signal in verdict["signals"]:
        broken.setdefault(signal["quantity"], []).append(signal["text"])
    rows = tuple(
        DeviationRow(
            name,
            each["title"],
            each["value"],
            each["difference"],
            aims.get(name),
            PLACE_WORDS[each["place"]],
            tuple(broken.get(name, ())),
        )
        for name, each in verdict["deviations"].items()
    )
    return ShownJudgement(
        judgement=judgement,
        text=verdict["text"] if not verdict["reason"] else f"{REASONS[verdict['reason']]}",
        rows=rows,
        causes=tuple(verdict["causes"]),
        causes_note=verdict["causes_note"],
        false_alarm_strips=verdict["false_alarm_strips"],
        rule_set=RULE_SETS[judgement.aims.rules].title if judgement.aims else "",
    )
