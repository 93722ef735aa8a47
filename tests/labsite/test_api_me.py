"""Oneself by a token: who, with what token, in which lab; and one's own profile."""

import pytest

from labsite.accounts.models import ApiToken, AuditRecord
from tests.factories.scripts import Script


def test_a_script_learns_who_it_is_and_what_its_token_may(owner):
    me = Script(owner, is_read_only=True).get("me/")
    assert (me["username"], me["role"], me["display_name"]) == ("owner", "member", "Ola Ownfield")
    assert me["token"]["is_read_only"]
    assert me["lab"]["is_open_to_visitors"] is False
    assert "token_hash" not in str(me)


def test_a_browser_session_has_no_token(owner, client_for):
    me = client_for(owner).get("/api/v1/me/").json()
    assert (me["username"], me["token"]) == ("owner", None)


def test_a_browser_session_writes_only_with_its_form_token(owner):
    from django.test import Client

    client = Client(enforce_csrf_checks=True)
    client.force_login(owner)
    answer = client.patch("/api/v1/me/", {"initials": "XX"}, content_type="application/json")
    assert answer.status_code == 403
    owner.refresh_from_db()
    assert owner.initials == "OO"


def test_what_is_not_given_stays(owner):
    me = Script(owner).does("patch", "me/", {"credit": "name"})
    assert (me["credit"], me["initials"]) == ("name", "OO")
    record = AuditRecord.objects.get(action="update profile")
    assert (record.before, record.after) == ({"credit": "initials"}, {"credit": "name"})


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"email": "nowhere"}, "email"),
        ({"credit": "loudly"}, "credit"),
        ({"initials": ""}, "initials"),
        ({"role": "admin"}, "role"),
        ({"username": "boss"}, "username"),
        ({"is_active": False}, "is_active"),
    ],
)
def test_nothing_else_of_oneself_changes(owner, change, field):
    assert Script(owner).refused("patch", "me/", change, status=400)["field"] == field
    owner.refresh_from_db()
    assert (owner.role, owner.username, owner.email, owner.is_active) == ("member", "owner", "", True)


def test_a_read_only_token_changes_nothing_and_says_so(owner):
    refusal = Script(owner, is_read_only=True).refused("patch", "me/", {"initials": "XX"}, status=403)
    assert "may only read" in refusal["message"]


def test_without_a_token_a_script_is_told_how_to_get_one(db):
    refusal = Script().refused("get", "me/", status=401)
    assert refusal["code"] == "not_authenticated"
    assert "Access tokens" in refusal["message"]


def test_the_token_of_a_retired_person_is_worth_nothing(owner):
    script = Script(owner)
    type(owner).objects.filter(pk=owner.pk).update(is_active=False)
    assert script.refused("get", "me/", status=401)["code"] == "bad_token"
    assert ApiToken.objects.get().last_used_at is None
