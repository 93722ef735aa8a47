"""An account is made by a one-time link and in no other way."""

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest
from django.db import connection
from django.utils import timezone

from labsite.accounts.models import AuditRecord, Invite, User
from labsite.accounts.models.secrets import hash_token
from labsite.accounts.services import (
    accept_invite,
    create_first_admin,
    create_invite,
    first_admin_link,
    revoke_invite,
)
from labsite.common.errors import InvalidInput, NotAllowed, NotFound, WrongState

NEWCOMER = {
    "username": "newcomer",
    "display_name": "Nia Comer",
    "initials": "NC",
    "password": "wedge-and-tank",
}


def first_admin_token() -> str:
    return first_admin_link().rstrip("/").rpartition("/")[2]


def test_an_invite_makes_one_account_with_its_role(admin):
    made = create_invite(actor=admin, role="admin", note="For Nia")
    user = accept_invite(token=made.token, **NEWCOMER)
    assert (user.role, user.is_active, user.check_password("wedge-and-tank")) == ("admin", True, True)
    made.invite.refresh_from_db()
    assert (made.invite.state, made.invite.used_by) == ("used", user)
    with pytest.raises(WrongState, match="used already"):
        accept_invite(token=made.token, **NEWCOMER | {"username": "another"})


def test_only_the_hash_of_an_invite_is_stored(admin):
    made = create_invite(actor=admin, role="member")
    row = Invite.objects.values().get()
    assert row["token_hash"] == hash_token(made.token)
    assert made.token not in str(row)
    assert made.token not in str(list(AuditRecord.objects.values()))


def test_an_invite_lasts_seven_days_unless_told(admin):
    made = create_invite(actor=admin, role="member")
    assert made.invite.expires_at - made.invite.created_at == pytest.approx(
        timedelta(days=7), abs=timedelta(seconds=5)
    )


@pytest.mark.parametrize("days", [0, -1, 61])
def test_an_invite_lasts_no_longer_than_sixty_days(admin, days):
    with pytest.raises(InvalidInput) as refusal:
        create_invite(actor=admin, role="member", days=days)
    assert refusal.value.field == "days"


def test_an_unknown_role_is_refused(admin):
    with pytest.raises(InvalidInput) as refusal:
        create_invite(actor=admin, role="owner")
    assert refusal.value.field == "role"


@pytest.mark.parametrize("who", ["owner", "stranger", "visitor"])
def test_only_admins_invite_and_revoke(request, admin, who):
    person = request.getfixturevalue(who)
    made = create_invite(actor=admin, role="member")
    with pytest.raises(NotAllowed):
        create_invite(actor=person, role="member")
    with pytest.raises(NotAllowed):
        revoke_invite(actor=person, invite_id=made.invite.pk)
    assert Invite.objects.get().state == "open"


def test_an_expired_invite_is_refused(admin):
    made = create_invite(actor=admin, role="member")
    Invite.objects.update(expires_at=timezone.now() - timedelta(seconds=1))
    with pytest.raises(WrongState, match="expired"):
        accept_invite(token=made.token, **NEWCOMER)


def test_a_revoked_invite_is_refused(admin):
    made = create_invite(actor=admin, role="member")
    revoke_invite(actor=admin, invite_id=made.invite.pk)
    with pytest.raises(WrongState, match="withdrawn"):
        accept_invite(token=made.token, **NEWCOMER)


def test_a_used_or_revoked_invite_cannot_be_revoked(admin):
    made = create_invite(actor=admin, role="member")
    accept_invite(token=made.token, **NEWCOMER)
    with pytest.raises(WrongState, match="used already"):
        revoke_invite(actor=admin, invite_id=made.invite.pk)
    with pytest.raises(NotFound):
        revoke_invite(actor=admin, invite_id=made.invite.pk + 1)


def test_an_unknown_link_is_refused(db):
    with pytest.raises(WrongState, match="not one of ours"):
        accept_invite(token="made-up", **NEWCOMER)


def test_every_fault_of_the_form_is_told_at_once_and_the_invite_stays_open(admin, owner):
    made = create_invite(actor=admin, role="member")
    with pytest.raises(InvalidInput) as refusal:
        accept_invite(
            token=made.token,
            username="Owner",
            display_name=" ",
            initials="TOOLONG",
            email="nowhere",
            password="password12",
        )
    assert {problem["field"] for problem in refusal.value.problems} == {
        "username",
        "display_name",
        "initials",
        "email",
        "password",
    }
    assert Invite.objects.get().state == "open"


@pytest.mark.parametrize(
    ("password", "reason"),
    [
        ("short-one", "too short"),
        ("password12", "too common"),
        ("nia.comer.1", "too similar"),
    ],
)
def test_weak_passwords_are_refused(admin, password, reason):
    made = create_invite(actor=admin, role="member")
    with pytest.raises(InvalidInput, match=reason) as refusal:
        accept_invite(token=made.token, **NEWCOMER | {"password": password, "username": "nia.comer"})
    assert refusal.value.field == "password"


@pytest.mark.parametrize("username", ["", "a", "-dash", "with space", "ünï", "x" * 41, "a\x00b"])
def test_user_names_that_cannot_be_typed_everywhere_are_refused(admin, username):
    made = create_invite(actor=admin, role="member")
    with pytest.raises(InvalidInput) as refusal:
        accept_invite(token=made.token, **NEWCOMER | {"username": username})
    assert refusal.value.field == "username"


def test_user_names_do_not_differ_by_capitals_or_outer_spaces(admin):
    made = create_invite(actor=admin, role="member")
    user = accept_invite(token=made.token, **NEWCOMER | {"username": " NewComer "})
    assert user.username == "newcomer"
    assert User.objects.get_by_natural_key("NEWCOMER") == user


def test_joining_is_in_the_history(admin):
    made = create_invite(actor=admin, role="member", note="For Nia")
    user = accept_invite(token=made.token, **NEWCOMER)
    actions = [(record.actor, record.action) for record in AuditRecord.objects.order_by("id")]
    assert actions == [(admin, "create invite"), (user, "join lab")]


# --- The first admin


@pytest.mark.django_db
def test_an_empty_lab_gets_its_admin_by_the_console_link():
    token = first_admin_token()
    user = create_first_admin(token=token, **NEWCOMER)
    assert user.role == "admin"
    assert first_admin_link() is None


def test_a_lab_with_only_members_still_needs_an_admin(owner):
    assert first_admin_link() is not None


def test_a_lab_with_an_admin_prints_no_link(admin):
    assert first_admin_link() is None
    assert not Invite.objects.exists()


@pytest.mark.django_db
def test_links_of_earlier_starts_die_once_there_is_an_admin():
    earlier, later = first_admin_token(), first_admin_token()
    create_first_admin(token=later, **NEWCOMER)
    with pytest.raises(WrongState, match="has an admin already"):
        create_first_admin(token=earlier, **NEWCOMER | {"username": "another"})
    with pytest.raises(WrongState, match="used already"):
        create_first_admin(token=later, **NEWCOMER | {"username": "another"})


@pytest.mark.django_db
def test_a_console_link_expires_after_a_day():
    token = first_admin_token()
    Invite.objects.update(expires_at=timezone.now() - timedelta(seconds=1))
    with pytest.raises(WrongState, match="expired"):
        create_first_admin(token=token, **NEWCOMER)


def test_the_two_kinds_of_link_are_not_interchangeable(admin):
    made = create_invite(actor=admin, role="member")
    with pytest.raises(WrongState, match="not one of ours"):
        create_first_admin(token=made.token, **NEWCOMER)
    User.objects.filter(pk=admin.pk).update(is_active=False)
    with pytest.raises(WrongState, match="not one of ours"):
        accept_invite(token=first_admin_token(), **NEWCOMER)


# --- Two at once


def at_once(calls) -> list:
    """Run the calls in threads of their own; return what each returned or raised."""

    def outcome(call):
        try:
            return call()
        except Exception as fault:
            return fault
        finally:
            connection.close()

    with ThreadPoolExecutor(len(calls)) as pool:
        return list(pool.map(outcome, calls))


@pytest.mark.django_db(transaction=True)
def test_of_eight_who_use_one_link_at_once_one_joins(admin):
    made = create_invite(actor=admin, role="member")
    people = [NEWCOMER | {"username": f"newcomer{n}"} for n in range(8)]
    outcomes = at_once([lambda p=p: accept_invite(token=made.token, **p) for p in people])
    assert sum(isinstance(outcome, User) for outcome in outcomes) == 1
    assert sum(isinstance(outcome, WrongState) for outcome in outcomes) == 7
    assert User.objects.filter(username__startswith="newcomer").count() == 1


@pytest.mark.django_db(transaction=True)
def test_of_four_who_want_one_user_name_at_once_one_gets_it(admin):
    tokens = [create_invite(actor=admin, role="member").token for _ in range(4)]
    outcomes = at_once([lambda t=t: accept_invite(token=t, **NEWCOMER) for t in tokens])
    assert sum(isinstance(outcome, User) for outcome in outcomes) == 1
    assert [o.field for o in outcomes if isinstance(o, InvalidInput)] == ["username"] * 3
    assert Invite.objects.filter(used_at=None).count() == 3


@pytest.mark.django_db(transaction=True)
def test_of_four_first_admins_at_once_one_is_made():
    tokens = [first_admin_token() for _ in range(4)]
    people = [NEWCOMER | {"username": f"newcomer{n}", "token": token} for n, token in enumerate(tokens)]
    outcomes = at_once([lambda p=p: create_first_admin(**p) for p in people])
    assert sum(isinstance(outcome, User) for outcome in outcomes) == 1
    assert User.objects.count() == 1
