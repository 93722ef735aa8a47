"""Verdicts: written, decided, written anew, withdrawn; who reads what; nothing is deleted."""

import pytest
from django.urls import reverse

from curves.models import StockResult, Verdict, VerdictState
from curves.services.verdicts import (
    approve_verdict,
    decline_verdict,
    rewrite_verdict,
    withdraw_verdict,
    write_verdict,
)
from labsite.accounts.models import AuditRecord, User
from labsite.accounts.services import update_lab
from labsite.common.errors import InvalidInput, NotAllowed, WrongState
from tests.factories.many_stocks import make_many_stocks
from tests.factories.rolls import make_standards

TEXT = {
    "purposes": ["portrait", "studio"],
    "what_for": "Portraits in soft light.",
    "strengths": "Highlights keep separating.",
    "watch_out": "A dense base.",
}
APPROVED, WAITING, DECLINED = VerdictState.APPROVED, VerdictState.WAITING, VerdictState.DECLINED
REPLACED, WITHDRAWN = VerdictState.REPLACED, VerdictState.WITHDRAWN


@pytest.fixture
def result(owner, admin):
    make_many_stocks(owner, make_standards(admin), stocks=2, rolls=1)
    return StockResult.objects.order_by("stock__name").first()


@pytest.fixture
def waiting(owner, result):
    return write_verdict(actor=owner, result_id=result.pooled_id, **TEXT)


def states():
    return list(Verdict.objects.order_by("pk").values_list("state", flat=True))


def test_a_verdict_waits_is_approved_and_written_anew_behind_the_shown_one(owner, admin, result, waiting):
    approve_verdict(actor=admin, verdict_id=waiting.pk)
    anew = rewrite_verdict(
        actor=owner, verdict_id=waiting.pk, result_id=result.pooled_id, **TEXT | {"what_for": "Faces."}
    )
    assert states() == [APPROVED, WAITING] and anew.replaces == waiting
    again = rewrite_verdict(actor=owner, verdict_id=anew.pk, result_id=result.pooled_id, **TEXT)
    assert states() == [APPROVED, REPLACED, WAITING]
    approve_verdict(actor=admin, verdict_id=again.pk)
    assert states() == [REPLACED, REPLACED, APPROVED]
    told = AuditRecord.objects.filter(action="rewrite verdict").order_by("pk").first()
    assert (told.before["what_for"], told.after["what_for"]) == (TEXT["what_for"], "Faces.")


def test_a_declined_one_says_why_and_may_be_mended(owner, admin, result, waiting):
    with pytest.raises(InvalidInput, match="what speaks against it"):
        decline_verdict(actor=admin, verdict_id=waiting.pk, reason=" ")
    decline_verdict(actor=admin, verdict_id=waiting.pk, reason="The sheet shows no shoulder.")
    rewrite_verdict(actor=owner, verdict_id=waiting.pk, result_id=result.pooled_id, **TEXT)
    assert states() == [REPLACED, WAITING]
    assert Verdict.objects.first().decision_reason or Verdict.objects.last().decision_reason


def test_withdrawing_keeps_the_text_and_takes_the_later_one_with_it(owner, admin, result, waiting):
    approve_verdict(actor=admin, verdict_id=waiting.pk)
    rewrite_verdict(actor=owner, verdict_id=waiting.pk, result_id=result.pooled_id, **TEXT)
    withdraw_verdict(actor=owner, verdict_id=waiting.pk)
    assert states() == [WITHDRAWN, WITHDRAWN]
    assert Verdict.objects.get(pk=waiting.pk).strengths == TEXT["strengths"]
    with pytest.raises(WrongState, match="withdrawn"):
        withdraw_verdict(actor=owner, verdict_id=waiting.pk)
    write_verdict(actor=owner, result_id=result.pooled_id, **TEXT)  # and may be written again


def test_one_open_verdict_an_author_and_only_on_what_stands(owner, result, waiting):
    with pytest.raises(WrongState, match="change that one"):
        write_verdict(actor=owner, result_id=result.pooled_id, **TEXT)
    with pytest.raises(WrongState, match="does not stand any more"):
        write_verdict(actor=owner, result_id=result.pooled_id + 10**6, **TEXT)


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"purposes": []}, "purposes"),
        ({"purposes": ["portrait", "nonsense"]}, "purposes"),
        ({"purposes": ["portrait", "street", "studio", "copy", "action"]}, "purposes"),
        ({"what_for": " "}, "what_for"),
        ({"strengths": "x" * 801}, "strengths"),
        ({"strengths": ""}, "strengths"),
        ({"watch_out": "x" * 801}, "watch_out"),
    ],
)
def test_what_is_missing_or_too_long_is_told_by_field(change, field, labmate, result):
    with pytest.raises(InvalidInput) as refusal:
        write_verdict(actor=labmate, result_id=result.pooled_id, **TEXT | change)
    assert [problem["field"] for problem in refusal.value.problems] == [field]
    assert not Verdict.objects.exists()


def test_authors_change_their_own_and_admins_decide_on_others(owner, labmate, admin, result, waiting):
    with pytest.raises(NotAllowed):
        withdraw_verdict(actor=labmate, verdict_id=waiting.pk)
    with pytest.raises(NotAllowed):
        rewrite_verdict(actor=admin, verdict_id=waiting.pk, result_id=result.pooled_id, **TEXT)
    with pytest.raises(NotAllowed):
        approve_verdict(actor=labmate, verdict_id=waiting.pk)
    own = write_verdict(actor=admin, result_id=result.pooled_id, **TEXT)
    approve_verdict(actor=admin, verdict_id=own.pk)  # the lab's only admin may
    User.objects.filter(pk=labmate.pk).update(role="admin")
    anew = rewrite_verdict(actor=admin, verdict_id=own.pk, result_id=result.pooled_id, **TEXT)
    with pytest.raises(NotAllowed, match="another admin"):
        approve_verdict(actor=admin, verdict_id=anew.pk)


def test_the_stock_s_page_shows_what_was_approved_and_the_queue_what_was_not(
    owner, labmate, admin, visitor, result, waiting, client_for
):
    stock = reverse("stock", args=[result.stock_id])
    assert TEXT["what_for"] not in client_for(labmate).get(stock).content.decode()
    own = client_for(owner).get(stock).content.decode()
    assert "waiting for an admin" in own and "Write a verdict" not in own
    assert TEXT["what_for"] in client_for(admin).get(reverse("verdict_queue")).content.decode()
    client = client_for(admin)
    answer = client.post(reverse("verdict_decline", args=[waiting.pk]), {"reason": ""})
    assert answer.status_code == 400 and "what speaks against it" in answer.content.decode()
    assert client.post(reverse("verdict_approve", args=[waiting.pk])).status_code == 302
    update_lab(actor=admin, name="Lab", contact="", is_open_to_visitors=True)
    read = client_for(visitor).get(stock).content.decode()
    assert TEXT["what_for"] in read and "A dense base." in read and "Ola Ownfield" not in read


def test_the_form_keeps_what_was_typed(labmate, result, client_for):
    address = reverse("verdict_write", args=[result.stock_id])
    sent = TEXT | {"purposes": [], "result_id": result.pooled_id}
    answer = client_for(labmate).post(address, sent)
    assert answer.status_code == 400
    page = answer.content.decode()
    assert "Tick 1 to 4 purposes." in page and TEXT["strengths"] in page
    done = client_for(labmate).post(address, sent | {"purposes": ["portrait"]}, follow=True)
    assert "waits for an admin" in done.content.decode()
