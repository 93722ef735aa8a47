"""What the engine is given about control strips: one strip for each run, with those that came before it.

A run that was read on several strips of one batch is one point, the mean of its strips: so a point always
stands for one process run, which is what the limits are about.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.db.models import Q, QuerySet
from django.utils import timezone

from curves.models import ControlAims, ControlStrip, InstrumentFinding, ProcessRun, RevisionState
from curves.sensitometry.controlling.aims import StripAims
from curves.sensitometry.controlling.control_strips import READING_SD
from curves.sensitometry.controlling.control_strips import ControlStrip as EngineStrip
from curves.sensitometry.controlling.strip_reading import classify_strip
from curves.sensitometry.controlling.strip_verdicts import StripVerdict

PLACES = ("base_fog", "speed_step", "high_step", "dmax")
#: The longest window of any rule is fifteen points; strips with a step missing are passed over.
LONGEST_WINDOW = 40

NEEDED = (
    "id", "run_id", "batch_id", "batch__code", "run__ran_on", "run__developer_batch", "replicate",
    "instrument__reading_sd", *PLACES,
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class StripPoint:
    """The strips of one batch in one run: what they read on average, and each by itself."""

    run_id: int
    batch_id: int
    ran_on: date
    strip: EngineStrip
    rows: tuple[dict, ...]


@dataclass(frozen=True)
class BatchVerdict:
    """What the strips of one batch say of a run, and the aims they were held against."""

    batch_id: int
    aims: ControlAims | None
    verdict: StripVerdict


def standing_strips() -> QuerySet[ControlStrip]:
    """Return the strips that count: not struck out, and read by an instrument that nobody found wrong."""
    strips = ControlStrip.objects.filter(is_current=True)
    for first_on, last_on, instrument_id, found_at in InstrumentFinding.objects.filter(
        ended_at__isnull=True
    ).values_list("first_on", "last_on", "instrument_id", "found_at"):
        strips = strips.exclude(read_between(instrument_id, first_on, last_on, found_at))
    return strips


def read_between(instrument_id: int, first_on: date, last_on: date, found_at: datetime) -> Q:
    """Return the condition on readings by an instrument in days in which it was found wrong."""
    zone = timezone.get_current_timezone()
    first = datetime.combine(first_on, time.min, tzinfo=zone)
    end = datetime.combine(last_on + timedelta(days=1), time.min, tzinfo=zone)
    return Q(instrument_id=instrument_id, read_at__gte=first, read_at__lt=min(end, found_at))


def strip_points(strips: QuerySet[ControlStrip], *, singly: bool = False) -> list[StripPoint]:
    """Return one point for each run and batch (``singly``: for each strip), in the order of time.

    One query, however many strips.
    """
    rows = strips.order_by("run__ran_on", "run_id", "batch_id", "replicate").values(*NEEDED)
    grouped: dict[tuple, list[dict]] = {}
    for row in rows:
        key = (row["run_id"], row["batch_id"], row["id"] if singly else None)
        grouped.setdefault(key, []).append(row)
    return [_point(tuple(group)) for group in grouped.values()]


def window_before(run: ProcessRun, batch_id: int) -> list[StripPoint]:
    """Return the points that may share a rule's window with this run's, oldest first."""
    earlier = standing_strips().filter(
        batch_id=batch_id,
        run__revision_id=run.revision_id,
        run__developer_batch=run.developer_batch,
    )
    earlier = earlier.filter(Q(run__ran_on__lt=run.ran_on) | Q(run__ran_on=run.ran_on, run_id__lt=run.pk))
    recent = earlier.order_by("-run__ran_on", "-run_id").values_list("run_id", flat=True)
    runs = list(dict.fromkeys(recent[: 3 * LONGEST_WINDOW]))[:LONGEST_WINDOW]
    return strip_points(earlier.filter(run_id__in=runs))


def aims_in_force(process_revision_id: int, batch_ids: Iterable[int]) -> dict[int, ControlAims]:
    """Return batch of strips → its aims in force under a process revision."""
    aims = ControlAims.objects.filter(
        process_revision_id=process_revision_id, strip_batch__in=batch_ids, state=RevisionState.IN_FORCE
    ).select_related("strip_batch")
    return {each.strip_batch_id: each for each in aims}


def verdicts_of(run: ProcessRun) -> list[BatchVerdict]:
    """Return what each batch of strips in the run says, by the aims in force now."""
    points = strip_points(standing_strips().filter(run=run))
    aims = aims_in_force(run.revision_id, [point.batch_id for point in points])
    verdicts = []
    for point in points:
        held_against = aims.get(point.batch_id)
        if held_against is None:
            verdicts.append(BatchVerdict(point.batch_id, None, classify_strip(point.strip, None)))
            continue
        history = [earlier.strip for earlier in window_before(run, point.batch_id)]
        verdict = classify_strip(
            point.strip, StripAims.from_dict(held_against.aims), history, rules=held_against.rules
        )
        verdicts.append(BatchVerdict(point.batch_id, held_against, verdict))
    return verdicts


def _point(rows: tuple[dict, ...]) -> StripPoint:
    first = rows[0]
    sds = [row["instrument__reading_sd"] for row in rows if row["instrument__reading_sd"]]
    return StripPoint(
        first["run_id"],
        first["batch_id"],
        first["run__ran_on"],
        EngineStrip(
            **{place: _mean([row[place] for row in rows]) for place in PLACES},
            reading_sd=(max(sds) if sds else READING_SD) / len(rows) ** 0.5,
            strip_batch=first["batch__code"],
            developer_batch=first["run__developer_batch"],
            run=str(first["run_id"]),
        ),
        rows,
    )


def _mean(values: list[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return sum(known) / len(known) if known else None
