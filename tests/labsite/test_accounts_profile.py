"""One's own account: names, sessions; and the lab's settings."""

import pytest

from labsite.accounts.models import AuditRecord, Lab
from labsite.accounts.queries import current_lab, may_read_accepted
from labsite.accounts.services import (
    mark_demo_lab,
    sign_out_everywhere,
    update_lab,
    update_profile,
)
from labsite.common.errors import InvalidInput, NotAllowed

SETTINGS = {
    "name": "Quay Street Darkroom",
    "contact": "the board by the door",
    "is_open_to_visitors": True,
}


def profile_of(user, **changes):
    names = ("display_name", "initials", "email", "credit")
    return {name: getattr(user, name) for name in names} | changes


def test_a_profile_changes_with_its_history(owner):
    update_profile(actor=owner, **profile_of(owner, display_name=" Ola Newfield ", credit="name"))
    owner.refresh_from_db()
    assert (owner.display_name, owner.credit_line) == ("Ola Newfield", "Ola Newfield")
    record = AuditRecord.objects.get()
    assert record.before == {"display_name": "Ola Ownfield", "credit": "initials"}
    assert record.after == {"display_name": "Ola Newfield", "credit": "name"}


@pytest.mark.parametrize(("credit", "line"), [("name", "Ola Ownfield"), ("initials", "OO"), ("none", "")])
def test_people_are_named_on_sheets_as_they_want(owner, credit, line):
    assert update_profile(actor=owner, **profile_of(owner, credit=credit)).credit_line == line


def test_every_fault_of_a_profile_is_told(owner):
    with pytest.raises(InvalidInput) as refusal:
        update_profile(actor=owner, display_name="", initials="", email="nowhere", credit="shout")
    fields = [problem["field"] for problem in refusal.value.problems]
    assert sorted(fields) == ["credit", "display_name", "email", "initials"]


@pytest.mark.parametrize("who", ["stranger", "visitor"])
def test_only_members_have_an_account_to_change(request, who):
    person = request.getfixturevalue(who)
    with pytest.raises(NotAllowed):
        update_profile(actor=person, display_name="X", initials="X", email="", credit="name")
    with pytest.raises(NotAllowed):
        sign_out_everywhere(actor=person)


def test_signing_out_everywhere_ends_every_session_of_this_account_only(owner, labmate, client_for):
    sessions = [client_for(owner), client_for(owner), client_for(labmate)]
    sign_out_everywhere(actor=owner)
    assert [session.get("/account/").status_code for session in sessions] == [302, 302, 200]


# --- The lab


def test_a_fresh_lab_has_sensible_settings_and_no_row(db):
    lab = current_lab()
    assert (lab.is_open_to_visitors, lab.is_demo) == (False, False)
    assert not Lab.objects.exists()


def test_an_admin_changes_the_settings(admin, owner, visitor):
    assert not may_read_accepted(visitor)
    update_lab(actor=admin, **SETTINGS)
    assert (current_lab().name, current_lab().is_open_to_visitors) == ("Quay Street Darkroom", True)
    assert may_read_accepted(visitor)
    record = AuditRecord.objects.get()
    assert record.after == SETTINGS


def test_members_read_a_closed_lab_and_retired_people_do_not(owner, stranger):
    assert may_read_accepted(owner)
    assert not may_read_accepted(stranger)


@pytest.mark.parametrize("who", ["owner", "stranger", "visitor"])
def test_only_admins_change_the_settings(request, who):
    with pytest.raises(NotAllowed):
        update_lab(actor=request.getfixturevalue(who), **SETTINGS)


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("name", " "),
        ("name", "x" * 81),
        ("contact", "x" * 201),
    ],
)
def test_settings_that_make_no_sense_are_refused(admin, field, value):
    with pytest.raises(InvalidInput) as refusal:
        update_lab(actor=admin, **SETTINGS | {field: value})
    assert refusal.value.field == field
    assert not Lab.objects.exists()


def test_a_lab_marked_as_demo_stays_so_when_its_settings_change(admin):
    mark_demo_lab()
    mark_demo_lab()
    update_lab(actor=admin, **SETTINGS)
    assert current_lab().is_demo
    assert AuditRecord.objects.filter(action="mark as demo lab").count() == 1
