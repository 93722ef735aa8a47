"""Roles and retirement: at once, with history, and never without an admin left."""

from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connection

from labsite.accounts.models import AuditRecord, User
from labsite.accounts.services import (
    change_role,
    create_invite,
    issue_token,
    reactivate_user,
    retire_user,
    verify_sign_in,
)
from labsite.common.errors import InvalidInput, NotAllowed, NotFound, WrongState


@pytest.fixture
def second_admin(owner):
    User.objects.filter(pk=owner.pk).update(role="admin")
    owner.refresh_from_db()
    return owner


@pytest.mark.parametrize(
    "service", [retire_user, reactivate_user, lambda **a: change_role(role="admin", **a)]
)
@pytest.mark.parametrize("who", ["labmate", "stranger", "visitor"])
def test_only_admins_change_people(request, owner, service, who):
    with pytest.raises(NotAllowed):
        service(actor=request.getfixturevalue(who), person_id=owner.pk)


@pytest.mark.parametrize(
    "service", [retire_user, reactivate_user, lambda **a: change_role(role="admin", **a)]
)
def test_an_unknown_person_is_not_found(admin, service):
    with pytest.raises(NotFound):
        service(actor=admin, person_id=admin.pk + 1)


def test_a_role_changes_with_its_history(admin, owner):
    change_role(actor=admin, person_id=owner.pk, role="admin", reason="Runs the Tuesday group")
    record = AuditRecord.objects.get()
    assert (record.actor, record.action, record.subject_type, record.subject_id) == (
        admin,
        "change role",
        "accounts.user",
        str(owner.pk),
    )
    assert (record.before, record.after) == ({"role": "member"}, {"role": "admin"})
    assert (record.reason, record.subject_label) == ("Runs the Tuesday group", "Ola Ownfield")


def test_an_unchanged_role_leaves_no_history(admin, owner):
    change_role(actor=admin, person_id=owner.pk, role="member")
    assert not AuditRecord.objects.exists()


def test_an_unknown_role_is_refused(admin, owner):
    with pytest.raises(InvalidInput) as refusal:
        change_role(actor=admin, person_id=owner.pk, role="visitor")
    assert refusal.value.field == "role"
    owner.refresh_from_db()
    assert owner.role == "member"


def test_the_last_admin_stays(admin, owner, stranger):
    User.objects.filter(pk=stranger.pk).update(role="admin")
    with pytest.raises(WrongState, match="only admin"):
        retire_user(actor=admin, person_id=admin.pk)
    with pytest.raises(WrongState, match="only admin"):
        change_role(actor=admin, person_id=admin.pk, role="member")


def test_with_a_second_admin_the_first_may_go(admin, second_admin):
    retire_user(actor=admin, person_id=admin.pk)
    assert list(User.objects.filter(is_active=True, role="admin")) == [second_admin]


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("service", [retire_user, lambda **a: change_role(role="member", **a)])
def test_two_admins_who_remove_each_other_at_once_leave_one(admin, second_admin, service):
    def remove(pair):
        try:
            service(actor=pair[0], person_id=pair[1].pk)
        except (WrongState, NotAllowed) as fault:
            return fault
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as pool:
        refusals = [f for f in pool.map(remove, [(admin, second_admin), (second_admin, admin)]) if f]
    assert len(refusals) == 1
    assert User.objects.filter(is_active=True, role="admin").count() == 1


def test_retirement_ends_sessions_tokens_and_invites(admin, second_admin, client_for, client):
    session = client_for(second_admin)
    token = issue_token(actor=second_admin, name="Bench script")
    invite = create_invite(actor=second_admin, role="member").invite
    assert session.get("/account/").status_code == 200

    retire_user(actor=admin, person_id=second_admin.pk)

    assert session.get("/account/").status_code == 302
    token.row.refresh_from_db()
    invite.refresh_from_db()
    assert (token.row.state, invite.state) == ("revoked", "revoked")
    with pytest.raises(InvalidInput):
        verify_sign_in(username="owner", password="grey-card-18", address="192.0.2.7")
    record = AuditRecord.objects.get(action="retire person")
    assert record.after == {"is_active": False, "tokens_revoked": 1, "invites_revoked": 1}


def test_sessions_of_before_retirement_stay_dead_after_reactivation(admin, owner, client_for):
    session = client_for(owner)
    assert session.get("/account/").status_code == 200
    retire_user(actor=admin, person_id=owner.pk)
    reactivate_user(actor=admin, person_id=owner.pk)
    assert session.get("/account/").status_code == 302
    assert verify_sign_in(username="owner", password="grey-card-18", address="192.0.2.7") == owner


def test_invites_of_a_former_admin_die(admin, second_admin):
    invite = create_invite(actor=second_admin, role="admin").invite
    change_role(actor=admin, person_id=second_admin.pk, role="member")
    invite.refresh_from_db()
    assert invite.state == "revoked"


def test_each_change_needs_the_state_that_it_ends(admin, owner, stranger):
    with pytest.raises(WrongState, match="retired already"):
        retire_user(actor=admin, person_id=stranger.pk)
    with pytest.raises(WrongState, match="is retired"):
        change_role(actor=admin, person_id=stranger.pk, role="admin")
    with pytest.raises(WrongState, match="active already"):
        reactivate_user(actor=admin, person_id=owner.pk)
