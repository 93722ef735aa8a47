"""Verdicts of members: who reads which, those of a stock, those that wait."""

from collections.abc import Mapping
from dataclasses import dataclass

from django.db.models import Q, QuerySet

from curves.models import Verdict, VerdictState
from curves.queries.roll_progress import has_other_admin
from labsite.accounts.queries import may_read_accepted
from labsite.common.access import is_admin, is_member, require_admin
from labsite.common.errors import NotFound

LATELY = 12
MOST_SHOWN = 20
OPEN_STATES = (VerdictState.WAITING, VerdictState.APPROVED)


@dataclass(frozen=True)
class StockVerdicts:
    """What a stock's page shows: what was approved, and the reader's own that is not shown to others."""

    approved: tuple[Verdict, ...]
    own: Verdict | None
    can_write: bool


@dataclass(frozen=True)
class OneVerdict:
    """A verdict with the earlier texts of its author, and what the reader may do with it."""

    verdict: Verdict
    others: tuple[Verdict, ...]
    can_rewrite: bool
    can_withdraw: bool
    can_decide: bool
    hindrance: str


@dataclass(frozen=True)
class VerdictQueue:
    """Verdicts that wait, longest first, and what was decided lately."""

    waiting: tuple[Verdict, ...]
    decided: tuple[Verdict, ...]


def visible_verdicts(user) -> QuerySet[Verdict]:
    """Return the verdicts that this person may read: approved ones, one's own; admins read all."""
    related = ("stock", "author", "decided_by", "process_revision__standard", "exposure_revision__standard")
    verdicts = Verdict.objects.select_related(*related)
    if is_admin(user):
        return verdicts
    if is_member(user):
        return verdicts.filter(Q(state=VerdictState.APPROVED) | Q(author=user))
    if may_read_accepted(user):
        return verdicts.filter(state=VerdictState.APPROVED)
    return verdicts.none()


def stock_verdicts(
    user, *, stock_id: int, pair_ids: Mapping[str, int] | None, has_result: bool
) -> StockVerdicts:
    """Return the verdicts on a stock under a pair of standards."""
    if pair_ids is None:
        return StockVerdicts((), None, can_write=False)
    under = visible_verdicts(user).filter(stock=stock_id, **pair_ids)
    told = list(under.filter(Q(state=VerdictState.APPROVED) | Q(author=user.pk)))
    approved = [each for each in told if each.state == VerdictState.APPROVED]
    own = [each for each in told if each.author_id == user.pk]
    live = (VerdictState.WAITING, VerdictState.DECLINED)
    return StockVerdicts(
        approved=tuple(approved[:MOST_SHOWN]),
        own=next((each for each in own if each.state in live), None),
        can_write=is_member(user) and has_result and not any(each.state in OPEN_STATES for each in own),
    )


def one_verdict(user, verdict_id: int) -> OneVerdict:
    """Return one verdict; NotFound where there is none that is open to this person."""
    verdict = visible_verdicts(user).filter(pk=verdict_id).first()
    if verdict is None:
        raise NotFound("There is no such verdict, or it is not open to you.")
    of_same = visible_verdicts(user).filter(
        author=verdict.author,
        stock=verdict.stock,
        process_revision=verdict.process_revision_id,
        exposure_revision=verdict.exposure_revision_id,
    )
    is_own = is_member(user) and verdict.author_id == user.pk
    is_waiting = verdict.state == VerdictState.WAITING
    hindrance = ""
    if is_admin(user) and is_waiting and is_own and has_other_admin(user):
        hindrance = "This is your own verdict: another admin has to decide on it."
    return OneVerdict(
        verdict=verdict,
        others=tuple(of_same.exclude(pk=verdict.pk)),
        can_rewrite=is_own and verdict.state in (*OPEN_STATES, VerdictState.DECLINED),
        can_withdraw=is_own and verdict.state in OPEN_STATES,
        can_decide=is_admin(user) and is_waiting and not hindrance,
        hindrance=hindrance,
    )


def waiting_verdicts(user) -> QuerySet[Verdict]:
    """Return the verdicts that wait for an admin, longest first."""
    require_admin(user)
    return visible_verdicts(user).filter(state=VerdictState.WAITING).order_by("written_at", "pk")


def verdict_queue(user) -> VerdictQueue:
    """Return what admins have to decide on, and what they decided lately."""
    decided = visible_verdicts(user).filter(decided_at__isnull=False).order_by("-decided_at")
    return VerdictQueue(tuple(waiting_verdicts(user)), tuple(decided[:LATELY]))
