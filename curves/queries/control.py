"""What the lab stands on at the moment, and what waits for an admin."""

from dataclasses import dataclass

from django.db.models import Exists, OuterRef

from curves.models import RevisionState, StepTablet, TabletRevision
from curves.models.revisions import Revision
from curves.queries.control_today import ProcessToday, control_today
from curves.queries.exposures import EXPOSURE_CATALOGUE
from curves.queries.processes import PROCESS_CATALOGUE
from curves.queries.references import ReferencePair, reference_pairs
from curves.queries.revisions import Catalogue
from curves.queries.runs import RunRow, run_rows, visible_runs
from curves.queries.tablets import TABLET_CATALOGUE
from labsite.accounts.queries import may_read_accepted
from labsite.common.access import is_member, require_member

LATEST_RUNS = 8


@dataclass(frozen=True)
class ControlOverview:
    """What is in force, how the latest runs went, and what is due."""

    processes: tuple[Revision, ...]
    exposures: tuple[Revision, ...]
    calibrations: tuple[Revision, ...]
    references: tuple[ReferencePair, ...]
    runs: tuple[RunRow, ...]
    today: tuple[ProcessToday, ...]
    process_drafts: tuple[Revision, ...]
    exposure_drafts: tuple[Revision, ...]
    calibration_drafts: tuple[Revision, ...]
    uncalibrated: tuple[StepTablet, ...]
    unreferenced: tuple[ReferencePair, ...]

    @property
    def is_anything_due(self) -> bool:
        """Whether an admin has something to do here."""
        return any(
            (
                self.process_drafts,
                self.exposure_drafts,
                self.calibration_drafts,
                self.uncalibrated,
                self.unreferenced,
            )
        )


def control_overview(user) -> ControlOverview:
    """Return what this person may see of what the lab stands on."""
    if not may_read_accepted(user):
        require_member(user)
    pairs = [pair for pair in reference_pairs(user) if pair.is_in_force]
    may_look_inside = is_member(user)
    return ControlOverview(
        processes=_in_state(PROCESS_CATALOGUE, user, RevisionState.IN_FORCE),
        exposures=_in_state(EXPOSURE_CATALOGUE, user, RevisionState.IN_FORCE),
        calibrations=_in_state(TABLET_CATALOGUE, user, RevisionState.IN_FORCE),
        references=tuple(pairs),
        runs=tuple(run_rows(visible_runs(user).order_by("-ran_on", "-pk")[:LATEST_RUNS])),
        today=control_today() if may_look_inside else (),
        process_drafts=_in_state(PROCESS_CATALOGUE, user, RevisionState.DRAFT),
        exposure_drafts=_in_state(EXPOSURE_CATALOGUE, user, RevisionState.DRAFT),
        calibration_drafts=_in_state(TABLET_CATALOGUE, user, RevisionState.DRAFT),
        uncalibrated=_uncalibrated_tablets() if may_look_inside else (),
        unreferenced=tuple(pair for pair in pairs if pair.fault) if may_look_inside else (),
    )


def _in_state(catalogue: Catalogue, user, state: str) -> tuple[Revision, ...]:
    revisions = catalogue.revisions(user).filter(state=state)
    return tuple(revisions.order_by(f"{catalogue.link}__name"))


def _uncalibrated_tablets() -> tuple[StepTablet, ...]:
    calibrated = TabletRevision.objects.filter(tablet=OuterRef("pk"), state=RevisionState.IN_FORCE)
    return tuple(StepTablet.objects.exclude(Exists(calibrated)))
