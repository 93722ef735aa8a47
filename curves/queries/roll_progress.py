"""How far a roll is on its way, what comes next and whose turn it is, and what a person may do."""

from dataclasses import dataclass

from curves.models import Roll, RollState
from curves.models.processes import ControlState
from curves.models.rolls import UNDECIDED_STATES
from labsite.accounts.models import User
from labsite.common.access import ADMIN, is_admin, is_member
from labsite.jobs.models import Job

#: The way of every roll, in order.
STAGES = ("Plan", "Process run", "Readings", "Curve", "Submission", "Review")
# Which stage each next step belongs to.
STAGE_OF = {
    "record_run": 1,
    "enter_readings": 2,
    "wait_for_curve": 3,
    "fit_again": 3,
    "correct_readings": 2,
    "mend": 2,
    "submit": 4,
    "review": 5,
}
CURVE = STAGES.index("Curve")
DECIDED = (RollState.ACCEPTED, RollState.WITHDRAWN, RollState.VOID)


@dataclass(frozen=True)
class Stage:
    """One part of the way: done, now or still to come."""

    title: str
    state: str


@dataclass(frozen=True)
class NextStep:
    """The one thing to do next; ``is_mine`` says whether the reader is to do it."""

    code: str
    is_mine: bool

    @property
    def stages(self) -> tuple[Stage, ...]:
        """The whole way, with where the roll stands on it."""
        here = STAGE_OF.get(self.code, len(STAGES))
        states = ["done" if i < here else "now" if i == here else "to come" for i in range(len(STAGES))]
        if self.code == "mend":  # it is the readings' turn again, under a curve that stands
            states[CURVE] = "done"
        return tuple(Stage(*pair) for pair in zip(STAGES, states, strict=True))


def next_step(
    user, roll: Roll, *, has_readings: bool, is_fitted: bool, job: Job | None, has_curve: bool = True
) -> NextStep:
    """Return what comes next for the roll; ``has_curve`` is false where no curve fits the readings."""
    own = is_member(user) and roll.member_id == user.pk
    if roll.state in DECIDED:
        return NextStep("decided", is_mine=False)
    if roll.state == RollState.SUBMITTED and is_fitted:
        return NextStep("review", is_mine=is_admin(user) and not review_hindrance(user, roll))
    if roll.run_id is None:
        return NextStep("record_run", is_mine=own)
    if not has_readings:
        return NextStep("enter_readings", is_mine=own)
    if not is_fitted:
        is_coming = job is not None and not job.is_ended
        may_ask = own or (is_admin(user) and roll.state == RollState.SUBMITTED)
        return NextStep("wait_for_curve" if is_coming else "fit_again", is_mine=may_ask)
    if not has_curve:
        return NextStep("correct_readings", is_mine=own)
    return NextStep("mend" if roll.state == RollState.RETURNED else "submit", is_mine=own)


@dataclass(frozen=True)
class RollActions:
    """What this person may do with the roll now."""

    can_edit: bool
    can_submit: bool
    can_recall: bool
    can_refit: bool
    can_review: bool
    review_hindrance: str
    can_withdraw: bool
    can_void: bool
    can_override: bool
    can_remark: bool


def roll_actions(user, roll: Roll, *, has_readings: bool, is_fitted: bool, job: Job | None) -> RollActions:
    """Return what this person may do; the services refuse the same, with the reason."""
    own = is_member(user) and roll.member_id == user.pk
    admin = is_admin(user)
    accepted = roll.state == RollState.ACCEPTED
    hindrance = review_hindrance(user, roll)
    is_out = roll.run is not None and roll.run.control_state == ControlState.OUT_OF_CONTROL
    can_refit = (own or admin) and roll.state in UNDECIDED_STATES
    is_waiting = job is not None and not job.is_ended
    return RollActions(
        can_edit=own and roll.is_editable,
        can_submit=own and roll.is_editable and has_readings and is_fitted and roll.run_id is not None,
        can_recall=own and roll.state == RollState.SUBMITTED,
        can_refit=can_refit and has_readings and not is_fitted and not is_waiting,
        can_review=admin and roll.state == RollState.SUBMITTED and not hindrance,
        review_hindrance=hindrance,
        can_withdraw=accepted and (own or admin),
        can_void=accepted and admin,
        can_override=accepted and admin and is_out,
        can_remark=is_member(user),
    )


def review_hindrance(user, roll: Roll) -> str:
    """Return why an admin may not decide on this roll; empty when nothing stands against it."""
    if not is_admin(user) or roll.state != RollState.SUBMITTED or roll.member_id != user.pk:
        return ""
    if has_other_admin(user):
        return "This is your own roll: another admin has to review it."
    return ""


def has_other_admin(user) -> bool:
    """Whether somebody else could review this admin's rolls."""
    return User.objects.filter(role=ADMIN, is_active=True).exclude(pk=user.pk).exists()
