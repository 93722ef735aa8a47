"""Verdicts of members: written, written anew, withdrawn; decided on by admins. Nothing is deleted."""

from collections.abc import Sequence

from django.db import transaction
from django.utils import timezone

from curves.models import PooledAnalysis, Purpose, StockResult, Verdict, VerdictState
from curves.queries.roll_progress import has_other_admin
from labsite.accounts.services import record_audit
from labsite.accounts.services.changes import check_fields
from labsite.common.access import require_admin, require_member
from labsite.common.errors import InvalidInput, NotAllowed, NotFound, WrongState

MOST_PURPOSES = 4
OPEN_STATES = (VerdictState.WAITING, VerdictState.APPROVED)
LONGEST = {"what_for": 300, "strengths": 800, "watch_out": 800}
LONGEST_REASON = 800
TEXTS = tuple(LONGEST)


@transaction.atomic
def write_verdict(
    *,
    actor,
    result_id: int,
    purposes: Sequence[str],
    what_for: str,
    strengths: str,
    watch_out: str = "",
) -> Verdict:
    """Put a member's verdict on a stock into the queue, by the result that its author looked at.

    Who has one on the stock under these standards already writes that one anew instead.
    """
    require_member(actor)
    result = _standing_result(result_id)
    of_same = Verdict.objects.filter(author=actor, state__in=OPEN_STATES, **_subject(result))
    if of_same.exists():
        raise WrongState("You have a verdict on this stock under these standards; change that one.")
    verdict = Verdict(author=actor, result=result, **_subject(result))
    _fill(verdict, purposes, what_for=what_for, strengths=strengths, watch_out=watch_out)
    verdict.save()
    record_audit(actor=actor, action="write verdict", subject=verdict, after=_told(verdict))
    return verdict


@transaction.atomic
def rewrite_verdict(
    *,
    actor,
    verdict_id: int,
    result_id: int,
    purposes: Sequence[str],
    what_for: str,
    strengths: str,
    watch_out: str = "",
) -> Verdict:
    """Write one's verdict anew: it waits in the queue; what was approved stays shown until then."""
    before = _own(actor, verdict_id)
    if before.state not in (*OPEN_STATES, VerdictState.DECLINED):
        raise WrongState(f"This verdict is {before.get_state_display()}; write a new one.")
    result = _standing_result(result_id)
    if _subject(result) != _subject(before):
        raise InvalidInput("This result is of another stock or other standards.", field="result_id")
    waiting = Verdict.objects.select_for_update().filter(
        author=actor, state=VerdictState.WAITING, **_subject(before)
    )
    for each in waiting:
        _set_state(each, VerdictState.REPLACED)
    if before.state == VerdictState.DECLINED:
        _set_state(before, VerdictState.REPLACED)
    verdict = Verdict(author=actor, result=result, replaces=before, **_subject(result))
    _fill(verdict, purposes, what_for=what_for, strengths=strengths, watch_out=watch_out)
    verdict.save()
    record_audit(
        actor=actor, action="rewrite verdict", subject=verdict, before=_told(before), after=_told(verdict)
    )
    return verdict


@transaction.atomic
def withdraw_verdict(*, actor, verdict_id: int) -> Verdict:
    """Take one's verdict back, and with an approved one the later text that waits."""
    verdict = _own(actor, verdict_id)
    if verdict.state not in OPEN_STATES:
        raise WrongState(f"This verdict is {verdict.get_state_display()}; there is nothing to withdraw.")
    was = verdict.state
    _set_state(verdict, VerdictState.WITHDRAWN)
    if was == VerdictState.APPROVED:
        later = Verdict.objects.filter(author=actor, state=VerdictState.WAITING, **_subject(verdict))
        for each in later:
            _set_state(each, VerdictState.WITHDRAWN)
    record_audit(
        actor=actor,
        action="withdraw verdict",
        subject=verdict,
        before={"state": was},
        after={"state": verdict.state},
    )
    return verdict


@transaction.atomic
def approve_verdict(*, actor, verdict_id: int, reason: str = "") -> Verdict:
    """Let a verdict be shown, in place of what its author had shown before."""
    verdict = _waiting(actor, verdict_id)
    shown = Verdict.objects.select_for_update().filter(
        author=verdict.author, state=VerdictState.APPROVED, **_subject(verdict)
    )
    for each in shown:
        _set_state(each, VerdictState.REPLACED)
    return _decide(actor, verdict, VerdictState.APPROVED, "approve verdict", reason)


@transaction.atomic
def decline_verdict(*, actor, verdict_id: int, reason: str) -> Verdict:
    """Give a verdict back to its author with what speaks against it."""
    verdict = _waiting(actor, verdict_id)
    if not reason.strip():
        raise InvalidInput("Say what speaks against it; its author will read this.", field="reason")
    return _decide(actor, verdict, VerdictState.DECLINED, "decline verdict", reason)


def _decide(actor, verdict: Verdict, state: str, action: str, reason: str) -> Verdict:
    if len(reason.strip()) > LONGEST_REASON:
        raise InvalidInput(f"Say it in at most {LONGEST_REASON} characters.", field="reason")
    verdict.state, verdict.decided_by, verdict.decided_at = state, actor, timezone.now()
    verdict.decision_reason = reason.strip()
    verdict.save(update_fields=["state", "decided_by", "decided_at", "decision_reason"])
    record_audit(
        actor=actor,
        action=action,
        subject=verdict,
        before={"state": VerdictState.WAITING.value},
        after={"state": str(state)},
        reason=reason,
    )
    return verdict


def _fill(verdict: Verdict, purposes: Sequence[str], **texts: str) -> None:
    """The texts and purposes, or every fault of them."""
    problems = []
    chosen = list(dict.fromkeys(purposes))
    if not 1 <= len(chosen) <= MOST_PURPOSES or set(chosen) - set(Purpose.values):
        problems.append({"field": "purposes", "message": f"Tick one to {MOST_PURPOSES} purposes."})
    verdict.purposes = chosen
    for name, text in texts.items():
        setattr(verdict, name, text.strip())
        if len(text.strip()) > LONGEST[name]:
            problems.append({"field": name, "message": f"Say it in at most {LONGEST[name]} characters."})
    check_fields(verdict, *TEXTS, also=tuple(problems))


def _standing_result(result_id: int) -> PooledAnalysis:
    """The result that its author looked at, if it still stands."""
    standing = StockResult.objects.filter(pooled_id=result_id).select_related("pooled__stock").first()
    if standing is None:
        raise WrongState(
            "The result that you looked at does not stand any more; look at the stock's sheet again.",
            code="stale",
        )
    return standing.pooled


def _subject(of: PooledAnalysis | Verdict) -> dict[str, int]:
    return {
        "stock_id": of.stock_id,
        "process_revision_id": of.process_revision_id,
        "exposure_revision_id": of.exposure_revision_id,
    }


def _locked(verdict_id: int) -> Verdict:
    verdicts = Verdict.objects.select_for_update(of=("self",)).select_related("author", "stock")
    verdict = verdicts.filter(pk=verdict_id).first()
    if verdict is None:
        raise NotFound("There is no such verdict.")
    return verdict


def _own(actor, verdict_id: int) -> Verdict:
    require_member(actor)
    verdict = _locked(verdict_id)
    if verdict.author_id != actor.pk:
        raise NotAllowed("Only its author may change a verdict.")
    return verdict


def _waiting(actor, verdict_id: int) -> Verdict:
    require_admin(actor)
    verdict = _locked(verdict_id)
    if verdict.state != VerdictState.WAITING:
        raise WrongState(f"This verdict is {verdict.get_state_display()}; there is nothing to decide.")
    if verdict.author_id == actor.pk and has_other_admin(actor):
        raise NotAllowed("Nobody approves their own verdict; another admin has to decide.")
    return verdict


def _set_state(verdict: Verdict, state: str) -> None:
    verdict.state = state
    verdict.save(update_fields=["state"])


def _told(verdict: Verdict) -> dict:
    return {name: getattr(verdict, name) for name in TEXTS} | {"purposes": list(verdict.purposes)}
