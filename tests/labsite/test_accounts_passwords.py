"""Passwords: changed by the present one, set anew by a link that works once."""

from datetime import timedelta

import pytest
from django.utils import timezone

from labsite.accounts.models import AuditRecord, Invite, User
from labsite.accounts.services import (
    accept_invite,
    change_password,
    create_invite,
    create_password_link,
    renew_password,
    retire_user,
)
from labsite.accounts.services.sign_in import LIMIT, TooManyTries
from labsite.common.errors import InvalidInput, NotAllowed, NotFound, WrongState

PRESENT = "grey-card-18"
NEW = "wedge-and-tank"


# --- Changed by its owner


def test_a_new_password_ends_other_sessions(owner, client_for):
    other = client_for(owner)
    change_password(actor=owner, current_password=PRESENT, new_password=NEW)
    owner.refresh_from_db()
    assert owner.check_password(NEW)
    assert other.get("/account/").status_code == 302
    record = AuditRecord.objects.get()
    assert (record.action, record.before, record.after) == ("change password", None, None)


def test_the_present_password_must_be_right(owner):
    with pytest.raises(InvalidInput) as refusal:
        change_password(actor=owner, current_password="wrong", new_password=NEW)
    assert refusal.value.field == "current_password"


def test_the_new_password_must_be_good(owner):
    with pytest.raises(InvalidInput) as refusal:
        change_password(actor=owner, current_password=PRESENT, new_password="short")
    assert refusal.value.field == "new_password"
    owner.refresh_from_db()
    assert owner.check_password(PRESENT)


def test_guessing_the_present_password_counts_towards_the_limit(owner):
    for _ in range(LIMIT):
        with pytest.raises(InvalidInput):
            change_password(actor=owner, current_password="wrong", new_password=NEW)
    with pytest.raises(TooManyTries):
        change_password(actor=owner, current_password=PRESENT, new_password=NEW)


@pytest.mark.parametrize("who", ["stranger", "visitor"])
def test_only_members_change_a_password(request, who):
    with pytest.raises(NotAllowed):
        change_password(actor=request.getfixturevalue(who), current_password=PRESENT, new_password=NEW)


# --- Set anew by a link


def test_a_link_sets_the_password_once_and_ends_every_session(admin, owner, client_for):
    session = client_for(owner)
    made = create_password_link(actor=admin, person_id=owner.pk)
    assert renew_password(token=made.token, new_password=NEW) == owner
    owner.refresh_from_db()
    assert owner.check_password(NEW)
    assert session.get("/account/").status_code == 302
    with pytest.raises(WrongState, match="used already"):
        renew_password(token=made.token, new_password=NEW)
    actions = [(record.actor, record.action) for record in AuditRecord.objects.order_by("id")]
    assert actions == [(admin, "create password link"), (owner, "renew password")]


def test_a_bad_new_password_leaves_the_link_open(admin, owner):
    made = create_password_link(actor=admin, person_id=owner.pk)
    with pytest.raises(InvalidInput) as refusal:
        renew_password(token=made.token, new_password="ownfield")
    assert refusal.value.field == "new_password"
    assert Invite.objects.get().state == "open"


def test_a_link_lasts_a_day(admin, owner):
    made = create_password_link(actor=admin, person_id=owner.pk)
    assert made.invite.expires_at - timezone.now() < timedelta(days=1, seconds=1)
    Invite.objects.update(expires_at=timezone.now() - timedelta(seconds=1))
    with pytest.raises(WrongState, match="expired"):
        renew_password(token=made.token, new_password=NEW)


def test_a_newer_link_ends_the_earlier_one(admin, owner):
    earlier = create_password_link(actor=admin, person_id=owner.pk)
    create_password_link(actor=admin, person_id=owner.pk)
    with pytest.raises(WrongState, match="withdrawn"):
        renew_password(token=earlier.token, new_password=NEW)


def test_retirement_ends_the_link_of_the_retired(admin, owner):
    made = create_password_link(actor=admin, person_id=owner.pk)
    retire_user(actor=admin, person_id=owner.pk)
    with pytest.raises(WrongState, match="withdrawn"):
        renew_password(token=made.token, new_password=NEW)


def test_a_link_made_while_its_person_was_retired_sets_nothing(admin, owner):
    made = create_password_link(actor=admin, person_id=owner.pk)
    User.objects.filter(pk=owner.pk).update(is_active=False)
    with pytest.raises(WrongState, match="is retired"):
        renew_password(token=made.token, new_password=NEW)
    owner.refresh_from_db()
    assert owner.check_password(PRESENT)


def test_a_link_is_good_for_its_own_purpose_only(admin, owner):
    password_link = create_password_link(actor=admin, person_id=owner.pk)
    invite = create_invite(actor=admin, role="member")
    with pytest.raises(WrongState, match="not one of ours"):
        renew_password(token=invite.token, new_password=NEW)
    with pytest.raises(WrongState, match="not one of ours"):
        accept_invite(
            token=password_link.token, username="other", display_name="O", initials="O", password=NEW
        )
    assert User.objects.count() == 2


@pytest.mark.parametrize("who", ["labmate", "stranger", "visitor"])
def test_only_admins_make_the_link(request, owner, who):
    with pytest.raises(NotAllowed):
        create_password_link(actor=request.getfixturevalue(who), person_id=owner.pk)


def test_no_link_for_the_retired_or_the_unknown(admin, stranger):
    with pytest.raises(WrongState, match="retired"):
        create_password_link(actor=admin, person_id=stranger.pk)
    with pytest.raises(NotFound):
        create_password_link(actor=admin, person_id=stranger.pk + admin.pk)
