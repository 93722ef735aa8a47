"""The history: written in the transaction of its change, read by admins, filtered by its address."""

from datetime import date

import pytest
from django.db import transaction

from labsite.accounts.models import AuditRecord
from labsite.accounts.models.history import in_words
from labsite.accounts.queries import HistoryFilter, history_visible_to
from labsite.accounts.services import record_audit
from labsite.common.request_id import reset_request_id, set_request_id


@pytest.fixture
def record(owner):
    """``record(action, …)``: an entry about the owner's account."""

    def make(action="polish lens", **more):
        with transaction.atomic():
            return record_audit(**{"actor": owner, "action": action, "subject": owner} | more)

    return make


def test_an_entry_names_actor_subject_and_request(owner, record):
    token = set_request_id("abc123")
    try:
        entry = record(before={"focus": 1}, after={"focus": 2}, reason=" Soft corners ")
    finally:
        reset_request_id(token)
    entry.refresh_from_db()
    assert (entry.actor, entry.subject_type, entry.subject_id) == (owner, "accounts.user", str(owner.pk))
    assert (entry.subject_label, entry.reason, entry.request_id) == ("Ola Ownfield", "Soft corners", "abc123")
    assert entry.changes == [("focus", "1", "2")]


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (None, ""),
        ("", ""),
        ([], ""),
        (True, "yes"),
        (False, "no"),
        (0, "0"),
        (0.15, "0.15"),
        ("2031", "2031"),
        ("2031-05-04", "2031-05-04"),
        ("2031-05-04T22:30:00.123Z", "2031-05-05 00:30"),
        (["a", True], "a, yes"),
        ({"dilution_parts": 9, "is_fresh": False}, "dilution parts 9, is fresh no"),
    ],
)
def test_stored_values_are_shown_in_words(settings, value, words):
    settings.TIME_ZONE = "Europe/Berlin"  # two hours ahead of UTC in May
    assert in_words(value) == words


def test_fields_without_a_value_on_either_side_are_not_shown(record):
    assert record(before={"note": ""}, after={"note": "", "role": "member"}).changes == [
        ("role", "", "member")
    ]


@pytest.mark.django_db(transaction=True)
def test_an_entry_outside_a_transaction_is_a_fault(owner):
    with pytest.raises(transaction.TransactionManagementError):
        record_audit(actor=owner, action="polish lens", subject=owner)


@pytest.mark.django_db(transaction=True)
def test_an_entry_goes_with_its_transaction(owner):
    with pytest.raises(ZeroDivisionError), transaction.atomic():
        record_audit(actor=owner, action="polish lens", subject=owner)
        1 / 0  # noqa: B018
    assert not AuditRecord.objects.exists()


def test_the_site_itself_and_visitors_have_no_account_to_name(record, visitor):
    assert record(actor=None).actor is None
    assert record(actor=visitor).actor is None


def test_a_long_label_is_cut(owner, record):
    owner.display_name = "x" * 300
    assert record().subject_label == "x" * 199 + "…"


def test_values_that_json_does_not_know_are_kept_as_text(record):
    entry = record(after={"on": date(2031, 5, 4)})
    entry.refresh_from_db()
    assert entry.after == {"on": "2031-05-04"}


@pytest.mark.parametrize("who", ["owner", "stranger", "visitor"])
def test_only_admins_see_the_history(request, record, who):
    record()
    assert not history_visible_to(request.getfixturevalue(who), HistoryFilter()).exists()


def test_filters_narrow_the_history(admin, owner, labmate, record):
    lens = record()
    tank = record("wash tank", actor=labmate, subject=labmate)
    AuditRecord.objects.filter(pk=lens.pk).update(at="2031-05-04T12:00Z", request_id="abc")
    AuditRecord.objects.filter(pk=tank.pk).update(at="2031-05-06T12:00Z")

    def found(**wanted):
        return list(history_visible_to(admin, HistoryFilter(**wanted)).values_list("action", flat=True))

    assert found() == ["wash tank", "polish lens"]
    assert found(person_id=owner.pk) == ["polish lens"]
    assert found(action="wash tank") == ["wash tank"]
    assert found(about="ownf") == ["polish lens"]
    assert found(subject_type="accounts.user", subject_id=str(labmate.pk)) == ["wash tank"]
    assert found(request_id="abc") == ["polish lens"]
    assert found(first_on=date(2031, 5, 5)) == ["wash tank"]
    assert found(last_on=date(2031, 5, 4)) == ["polish lens"]
    assert found(first_on=date(2031, 5, 5), last_on=date(2031, 5, 5)) == []
