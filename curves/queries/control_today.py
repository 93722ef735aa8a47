"""How the processes in force stand today: the last strip of each, and what is due."""

from dataclasses import dataclass
from datetime import date

from django.db.models import Count, Min, Q
from django.utils import timezone

from curves.models import ProcessRevision, ProcessRun, RevisionState

#: Runs without a control strip after which one is overdue; house rule.
MOST_WITHOUT_STRIP = 3
#: So far back a strip is looked for.
LATEST = 300


@dataclass(frozen=True)
class ProcessToday:
    """One process standard in force: its newest run, its last strip, its developer."""

    revision: ProcessRevision
    newest: ProcessRun
    last_strip: ProcessRun | None
    without_strip: int
    due: tuple[str, ...]


def control_today() -> tuple[ProcessToday, ...]:
    """Return how each process in force stands, by the same three queries for any number of runs."""
    in_force = ProcessRevision.objects.filter(state=RevisionState.IN_FORCE).select_related("standard")
    revisions = {each.pk: each for each in in_force}
    latest: dict[int, list[ProcessRun]] = {}
    runs = ProcessRun.objects.filter(revision__in=revisions, voided_at__isnull=True)
    strips = Count("control_strips", filter=Q(control_strips__is_current=True))
    for run in runs.annotate(strip_count=strips).order_by("-ran_on", "-pk")[:LATEST]:
        latest.setdefault(run.revision_id, []).append(run)
    begun = _first_days(runs, latest)
    return tuple(
        _today(revisions[pk], latest[pk], begun[pk])
        for pk in sorted(latest, key=lambda pk: str(revisions[pk]))
    )


def _first_days(runs, latest: dict[int, list[ProcessRun]]) -> dict[int, date]:
    """Process revision → the first day of the developer batch that its newest run had."""
    condition = Q(pk__in=[])
    for pk, found in latest.items():
        condition |= Q(revision=pk, developer_batch=found[0].developer_batch)
    rows = runs.filter(condition).order_by().values("revision").annotate(first=Min("ran_on"))
    return {row["revision"]: row["first"] for row in rows}


def _today(revision: ProcessRevision, runs: list[ProcessRun], first: date) -> ProcessToday:
    newest = runs[0]
    place = next((n for n, run in enumerate(runs) if run.strip_count), None)
    without_strip = len(runs) if place is None else place
    due = []
    if without_strip > MOST_WITHOUT_STRIP:
        due.append(f"A control strip is overdue: the last {without_strip} runs went without one.")
    age = (timezone.localdate() - first).days
    name = f"Developer “{newest.developer_batch}”" if newest.developer_batch else "The developer"
    if newest.developer_batch and revision.developer_keeps_days and age > revision.developer_keeps_days:
        due.append(f"{name} is in use for {age} days; it keeps {revision.developer_keeps_days}.")
    if revision.developer_films and newest.films_through >= revision.developer_films:
        due.append(
            f"{name} had {newest.films_through} films through it before its last run; "
            f"{revision.developer_films} are the most."
        )
    return ProcessToday(revision, newest, None if place is None else runs[place], without_strip, tuple(due))
