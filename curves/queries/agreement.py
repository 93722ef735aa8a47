"""Studies of agreement as people read them: who read what, and the readings for the engine."""

from collections import Counter
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Count, Q, QuerySet

from curves.models import AgreementReading, AgreementStudy, Instrument
from curves.queries.readings import GridRow, readings_version
from curves.sensitometry.agreeing.study_readings import StudyReading
from labsite.common.access import is_member, require_member
from labsite.common.errors import NotFound


@dataclass(frozen=True)
class StudyGroup:
    """What one member read with one instrument."""

    label: str
    member: object
    instrument: Instrument
    reading_count: int
    step_count: int
    last_read_at: datetime


@dataclass(frozen=True)
class StudyGrid:
    """One member's readings with one instrument as a table, a row a step."""

    study: AgreementStudy
    instrument: Instrument | None
    rows: tuple[GridRow, ...]
    replicate_count: int
    version: str

    @property
    def is_rising(self) -> bool:
        """Whether the certified densities grow down the page; taken so where none are known."""
        known = [row.tablet_density for row in self.rows if row.tablet_density is not None]
        return len(known) < 2 or known[-1] >= known[0]


def visible_studies(user) -> QuerySet[AgreementStudy]:
    """Return the studies with how much was read; none but for members."""
    if not is_member(user):
        return AgreementStudy.objects.none()
    current = Q(readings__is_current=True)
    return AgreementStudy.objects.select_related("created_by").annotate(
        reading_count=Count("readings", filter=current, distinct=True),
        member_count=Count("readings__read_by", filter=current, distinct=True),
        instrument_count=Count("readings__instrument", filter=current, distinct=True),
    )


def visible_study(user, study_id: int) -> AgreementStudy:
    """Return one study, or refuse."""
    require_member(user)
    study = (
        visible_studies(user)
        .select_related("closed_by", "tablet_revision__tablet")
        .filter(pk=study_id)
        .first()
    )
    if study is None:
        raise NotFound("There is no such study.")
    return study


def study_steps(study: AgreementStudy) -> dict[int, float | None]:
    """Return step → its certified density, None where the strip is not calibrated."""
    if study.tablet_revision_id is None:
        return dict.fromkeys(range(1, study.step_count + 1))
    return dict(study.tablet_revision.steps.order_by("step").values_list("step", "density"))


def study_instruments(study: AgreementStudy) -> QuerySet[Instrument]:
    """Return the instruments in use that read this kind of density."""
    return Instrument.objects.filter(is_active=True, density_type=study.density_type, geometry=study.geometry)


def standing_study_readings(study: AgreementStudy) -> list[AgreementReading]:
    """Return the readings that count, in one query."""
    readings = study.readings.filter(is_current=True).select_related("read_by", "instrument")
    return list(readings.order_by("instrument__name", "read_by", "step", "replicate"))


def withdrawn_study_readings(study: AgreementStudy) -> QuerySet[AgreementReading]:
    """Return what was withdrawn, newest first."""
    withdrawn = study.readings.filter(is_current=False).select_related("read_by", "ended_by", "instrument")
    return withdrawn.order_by("-ended_at", "-pk")


def engine_study_readings(readings: list[AgreementReading]) -> list[StudyReading]:
    """Return the readings as the engine takes them; members of one name are told apart by a number."""
    names = member_names(readings)
    return [
        StudyReading(each.step, names[each.read_by_id], each.instrument.name, each.density)
        for each in readings
    ]


def member_names(readings: list[AgreementReading]) -> dict[int, str]:
    """Return member → a name that no other member of the study has."""
    people = {each.read_by_id: str(each.read_by) for each in readings}
    counts = Counter(people.values())
    return {pk: name if counts[name] == 1 else f"{name} ({pk})" for pk, name in people.items()}


def study_groups(readings: list[AgreementReading]) -> list[StudyGroup]:
    """Return who read with what, and how much."""
    names = member_names(readings)
    found: dict[tuple[int, int], list[AgreementReading]] = {}
    for each in readings:
        found.setdefault((each.read_by_id, each.instrument_id), []).append(each)
    return [
        StudyGroup(
            label=f"{names[member_id]} with {own[0].instrument.name}",
            member=own[0].read_by,
            instrument=own[0].instrument,
            reading_count=len(own),
            step_count=len({each.step for each in own}),
            last_read_at=max(each.read_at for each in own),
        )
        for (member_id, _), own in found.items()
    ]


def study_grid(user, study: AgreementStudy, instrument: Instrument | None) -> StudyGrid:
    """Return the member's own readings with an instrument; empty where none is chosen."""
    own = []
    if instrument is not None:
        own = list(study.readings.filter(read_by=user, instrument=instrument, is_current=True))
    cells = {(each.step, each.replicate): each.density for each in own}
    count = max([study.planned_replicates, *(replicate for _, replicate in cells)])
    rows = tuple(
        GridRow(step, None, density, tuple(cells.get((step, k)) for k in range(1, count + 1)))
        for step, density in study_steps(study).items()
    )
    return StudyGrid(study, instrument, rows, count, readings_version(own))
