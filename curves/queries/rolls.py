"""Test rolls as people find them: who sees which, lists of them, and what a new one can be made of."""

from dataclasses import dataclass

from django.db.models import Count, Q, QuerySet

from curves.models import (
    Analysis,
    Batch,
    ExposureRevision,
    FilmStock,
    ProcessRevision,
    ProcessRun,
    RevisionState,
    Roll,
    RollState,
)
from curves.models.revisions import Revision
from labsite.accounts.models import User
from labsite.accounts.queries import may_read_accepted
from labsite.common.access import is_admin, is_member
from labsite.common.errors import NotAllowed, NotFound, WrongState

LATEST_RUNS = 20


def visible_rolls(user) -> QuerySet[Roll]:
    """Return the rolls that this person may see: members the whole lab's, visitors accepted ones."""
    rolls = Roll.objects.select_related(
        "batch__stock", "process_revision__standard", "exposure_revision__standard", "run", "member"
    )
    if is_member(user):
        return rolls
    if may_read_accepted(user):
        return rolls.filter(state=RollState.ACCEPTED)
    return rolls.none()


def visible_roll(user, roll_id: int) -> Roll:
    """Return one roll that this person may see, with its standing analysis; NotFound otherwise."""
    roll = visible_rolls(user).select_related("current_analysis").filter(pk=roll_id).first()
    if roll is None:
        raise NotFound("There is no such roll, or it is not open to you.")
    return roll


def own_editable_roll(user, roll_id: int) -> Roll:
    """Return a roll that this member may change now; or refuse, as the services would."""
    roll = visible_roll(user, roll_id)
    if roll.member_id != user.pk:
        raise NotAllowed(f"{roll.code} belongs to {roll.member}; only its member may change it.")
    if not roll.is_editable:
        raise WrongState(
            f"{roll.code} is {roll.get_state_display()} and can't be changed; "
            "take it back, or ask an admin to return it, first."
        )
    return roll


def endable_roll(user, roll_id: int) -> Roll:
    """Return an accepted roll that this person may take out of comparisons; or refuse."""
    roll = visible_roll(user, roll_id)
    if roll.member_id != user.pk and not is_admin(user):
        raise NotAllowed(f"{roll.code} belongs to {roll.member}; only its member or an admin may do this.")
    if roll.state != RollState.ACCEPTED:
        raise WrongState(f"{roll.code} is {roll.get_state_display()}, not accepted.")
    return roll


@dataclass(frozen=True)
class RollFilter:
    """Which rolls are wanted; empty values want all."""

    state: str = ""
    stock_id: int | None = None
    member_id: int | None = None
    process_id: int | None = None
    exposure_id: int | None = None
    is_mine: bool = False

    def condition(self, user) -> Q:
        """Return the filter as a condition on rolls; "mine" is whoever looks."""
        wanted = {
            "state": self.state,
            "batch__stock_id": self.stock_id,
            "member_id": self.member_id,
            "process_revision_id": self.process_id,
            "exposure_revision_id": self.exposure_id,
        }
        condition = Q(**{name: value for name, value in wanted.items() if value})
        return condition & Q(member_id=user.pk) if self.is_mine else condition


def listed_rolls(user, wanted: RollFilter | None) -> QuerySet[Roll]:
    """Return visible rolls with the measures, but not the curves, of their standing analyses.

    None stands for wishes that make no sense: no roll fits them.
    """
    rolls = visible_rolls(user)
    rolls = rolls.filter(wanted.condition(user)) if wanted else rolls.none()
    return rolls.select_related("current_analysis").defer("current_analysis__detail")


@dataclass(frozen=True)
class RollChoices:
    """What rolls can be filtered by: only what some visible roll has."""

    stocks: QuerySet[FilmStock]
    members: QuerySet[User]
    processes: QuerySet[ProcessRevision]
    exposures: QuerySet[ExposureRevision]


def roll_choices(user) -> RollChoices:
    """Return the choices of the roll list's filters."""
    rolls = visible_rolls(user).order_by()

    def used(name: str):
        return rolls.values(name)

    return RollChoices(
        stocks=FilmStock.objects.filter(pk__in=used("batch__stock")),
        members=User.objects.filter(pk__in=used("member")) if is_member(user) else User.objects.none(),
        processes=_with_standard(ProcessRevision).filter(pk__in=used("process_revision")),
        exposures=_with_standard(ExposureRevision).filter(pk__in=used("exposure_revision")),
    )


@dataclass(frozen=True)
class PlanChoices:
    """What a new roll can be made of: batches by stock, and the revisions in force."""

    batches: tuple[Batch, ...]
    processes: tuple[ProcessRevision, ...]
    exposures: tuple[ExposureRevision, ...]


def runs_for(roll: Roll) -> QuerySet[ProcessRun]:
    """Return the latest runs in which this roll can have been developed, each with ``roll_count``."""
    runs = ProcessRun.objects.filter(revision=roll.process_revision_id, voided_at__isnull=True)
    runs = runs.select_related("operator")
    return runs.annotate(roll_count=Count("rolls")).order_by("-ran_on", "-pk")[:LATEST_RUNS]


def plan_choices() -> PlanChoices:
    """Return what a new roll can be planned with."""
    in_force = {"state": RevisionState.IN_FORCE}
    return PlanChoices(
        batches=tuple(Batch.objects.select_related("stock").order_by("stock__name", "stock__maker", "-id")),
        processes=tuple(_with_standard(ProcessRevision).filter(**in_force)),
        exposures=tuple(_with_standard(ExposureRevision).filter(**in_force)),
    )


def _with_standard(model: type[Revision]) -> QuerySet:
    return model.objects.select_related("standard").order_by("standard__name", "-number")


def visible_analyses(user) -> QuerySet[Analysis]:
    """Return the analyses that this person may see: visitors the standing ones of accepted rolls."""
    rolls = visible_rolls(user)
    if is_member(user):
        return Analysis.objects.filter(roll__in=rolls)
    return Analysis.objects.filter(pk__in=rolls.values("current_analysis"))
