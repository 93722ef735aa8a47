"""Signing in past a second factor, and its pages: nobody is in before the code, and secrets show once."""

import re
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from labsite.accounts.models import SecondFactor, User
from labsite.accounts.pages import entering
from labsite.accounts.queries import has_second_factor, second_factor_of
from labsite.accounts.services import (
    change_password,
    create_invite,
    create_password_link,
    retire_user,
    sign_out_everywhere,
    take_second_factor,
)
from labsite.accounts.services.sign_in import LIMIT
from tests.factories.second_factors import PASSWORD, app_code, turn_on_second_factor, wrong_code

SIGN_IN, CODE, PAGE = "/account/sign-in/", "/account/sign-in/code/", "/account/second-factor/"


@pytest.fixture
def codes(owner):
    """The owner's recovery codes; the second factor is on."""
    return turn_on_second_factor(owner)


def sign_in(client, username="owner", password=PASSWORD, **more):
    return client.post(SIGN_IN, {"username": username, "password": password, **more})


def is_signed_in(client):
    return client.get("/account/").status_code == 200


def half_way(user_name="owner"):
    client = Client()
    assert sign_in(client, user_name).url == CODE
    return client


# --- Signing in


def test_the_password_alone_signs_nobody_in(codes, client):
    answer = sign_in(client, next="/account/tokens/")
    assert (answer.status_code, answer.url) == (302, CODE)
    assert not is_signed_in(client)
    assert "_auth_user_id" not in client.session
    assert client.get("/api/v1/me/").status_code == 401


def test_the_code_signs_in_and_leads_on_under_a_new_session_key(owner, codes, client):
    sign_in(client, next="/account/tokens/")
    before = client.session.session_key
    page = client.get(CODE)
    assert page.status_code == 200 and 'autocomplete="one-time-code"' in page.text
    answer = client.post(CODE, {"code": app_code(owner)})
    assert (answer.status_code, answer.url) == (302, "/account/tokens/")
    assert is_signed_in(client)
    assert client.session.session_key != before
    assert entering.HALF_WAY not in client.session
    owner.refresh_from_db()
    assert owner.last_login is not None


def test_a_planted_session_key_is_worth_nothing(codes, client):
    planted = client.session
    planted["planted"] = True
    planted.save()
    sign_in(client)
    assert client.session.session_key != planted.session_key


def test_a_recovery_code_signs_in_once(owner, codes):
    client = half_way()
    assert client.post(CODE, {"code": codes[0]}).status_code == 302
    assert is_signed_in(client)
    again = half_way()
    assert again.post(CODE, {"code": codes[0]}).status_code == 400
    assert not is_signed_in(again)


def test_sign_in_tells_when_few_recovery_codes_are_left(codes):
    told = []
    for code in codes:
        client = half_way()
        text = client.post(CODE, {"code": code}, follow=True).text
        told.append(re.search(r"You have (\w+ recovery codes?) left", text))
    words = [found and found.group(1) for found in told]
    few = ["3 recovery codes", "2 recovery codes", "1 recovery code", "no recovery codes"]
    assert words == [None] * 6 + few


def test_a_wrong_or_used_code_is_told_and_may_be_typed_again(owner, codes):
    client = half_way()
    for code in (wrong_code(owner), ""):
        answer = client.post(CODE, {"code": code})
        assert answer.status_code == 400 and not is_signed_in(client)
    code = app_code(owner)
    assert client.post(CODE, {"code": code}).status_code == 302
    again = half_way().post(CODE, {"code": code})
    assert again.status_code == 400 and "used already" in again.text


def test_too_many_codes_are_told_apart_for_machines(owner, codes):
    client = half_way()
    for _ in range(LIMIT):
        assert client.post(CODE, {"code": wrong_code(owner)}).status_code == 400
    answer = client.post(CODE, {"code": app_code(owner)})
    assert answer.status_code == 429 and "Too many tries" in answer.text
    assert not is_signed_in(client)


def test_before_the_right_password_nothing_tells_who_has_a_second_factor(owner, labmate, codes, client):
    def shown(username):
        text = sign_in(client, username, "wrong").text.replace(username, "NAME")
        return re.sub(r'name="csrfmiddlewaretoken" value="\w+"', "", text)

    assert shown("owner") == shown("labmate") == shown("nobody")


def test_a_wrong_password_never_asks_for_a_second_factor(owner, codes, client, monkeypatch):
    asked = []
    monkeypatch.setattr(entering, "has_second_factor", asked.append)
    sign_in(client, password="wrong")
    assert asked == []


# --- What ends the half-way state


def assert_begins_anew(client, code):
    assert client.get(CODE).url == SIGN_IN
    answer = client.post(CODE, {"code": code})
    assert (answer.status_code, answer.url) == (302, SIGN_IN)
    assert not is_signed_in(client)


@pytest.mark.parametrize(("seconds", "lasts"), [(299, True), (301, False), (-299, True), (-301, False)])
def test_a_code_is_awaited_for_five_minutes(codes, monkeypatch, seconds, lasts):
    client, real = half_way(), timezone.now
    monkeypatch.setattr(entering.timezone, "now", lambda: real() + timedelta(seconds=seconds))
    if lasts:
        assert client.get(CODE).status_code == 200
    else:
        assert_begins_anew(client, codes[0])


def test_a_password_changed_half_way_ends_it(owner, codes):
    client = half_way()
    change_password(actor=owner, current_password=PASSWORD, new_password="wedge-and-tank")
    assert_begins_anew(client, codes[0])


@pytest.mark.parametrize("way", ["retired", "signed out everywhere", "taken away"])
def test_what_ends_sessions_ends_the_half_way_state(owner, admin, codes, way):
    client = half_way()
    if way == "retired":
        retire_user(actor=admin, person_id=owner.pk)
    elif way == "taken away":
        take_second_factor(actor=admin, person_id=owner.pk, reason="lost phone")
    else:
        sign_out_everywhere(actor=owner)
    assert_begins_anew(client, codes[0])


def test_the_code_page_is_for_who_gave_a_password(owner, labmate, codes, client, client_for):
    assert_begins_anew(client, codes[0])
    assert client_for(labmate).get(CODE).url == "/"
    # Whose password was right stands in the session, not in the form.
    others = turn_on_second_factor(labmate)
    attacker = half_way("labmate")
    attacker.post(CODE, {"code": others[0], "person_id": owner.pk})
    assert attacker.session["_auth_user_id"] == str(labmate.pk)


def test_a_link_for_a_new_password_asks_for_the_code_too(owner, admin, codes, client):
    link = create_password_link(actor=admin, person_id=owner.pk)
    answer = client.post(
        reverse("accounts:new_password", args=[link.token]), {"new_password": "wedge-and-tank"}
    )
    assert answer.url == CODE and not is_signed_in(client)
    assert client.post(CODE, {"code": app_code(owner)}).status_code == 302
    assert is_signed_in(client)


# --- One's own pages


def test_set_up_shows_the_key_twice_and_the_recovery_codes_once(owner, client_for):
    client = client_for(owner)
    assert "Set up a second factor" in client.get(PAGE).text
    assert client.post(f"{PAGE}begin/").url == PAGE
    shown = client.get(PAGE)
    factor = second_factor_of(owner)
    assert factor.secret_in_groups in shown.text and factor.secret not in shown.text
    assert '<svg class="qr"' in shown.text and "style=" not in shown.text
    assert shown["Cache-Control"].count("no-store")
    wrong = client.post(f"{PAGE}confirm/", {"current_password": PASSWORD, "code": wrong_code(owner)})
    assert wrong.status_code == 400 and factor.secret_in_groups in wrong.text
    made = client.post(f"{PAGE}confirm/", {"current_password": PASSWORD, "code": app_code(owner)})
    codes = re.findall(r"<code>((?:\w{4}-){3}\w{4})</code>", made.text)
    assert made.status_code == 201 and len(codes) == 10
    assert made["Cache-Control"].count("no-store")
    later = client.get(PAGE).text  # this session goes on
    assert "10 of 10" in later and factor.secret_in_groups not in later and codes[0] not in later


def test_new_codes_and_turning_off_on_the_page(owner, codes, client_for):
    client = client_for(owner)
    assert client.post(f"{PAGE}codes/", {"current_password": "wrong", "code": codes[0]}).status_code == 400
    made = client.post(f"{PAGE}codes/", {"current_password": PASSWORD, "code": codes[0]})
    new = re.findall(r"<code>((?:\w{4}-){3}\w{4})</code>", made.text)
    assert made.status_code == 201 and "worth nothing" in made.text
    refused = client.post(f"{PAGE}off/", {"current_password": PASSWORD, "code": codes[1]})
    assert refused.status_code == 400 and has_second_factor(owner)
    assert PASSWORD not in refused.text
    assert client.post(f"{PAGE}off/", {"current_password": PASSWORD, "code": new[0]}).url == PAGE
    assert not has_second_factor(owner)
    assert is_signed_in(client)


def test_beginning_when_it_is_on_changes_nothing(owner, codes, client_for):
    client = client_for(owner)
    secret = second_factor_of(owner).secret
    assert "on already" in client.post(f"{PAGE}begin/", follow=True).text
    assert SecondFactor.objects.get().secret == secret


def test_an_admin_takes_it_away_on_the_page_of_the_person(owner, admin, codes, client_for):
    client = client_for(admin)
    assert client.get("/lab/people/").text.count("and a second factor") == 1
    person = reverse("accounts:person", args=[owner.pk])
    assert "Lost second factor" in client.get(person).text
    take = reverse("accounts:take_second_factor", args=[owner.pk])
    assert client.post(take, {"reason": ""}).status_code == 400
    done = client.post(take, {"reason": "lost phone"}, follow=True)
    assert "signs in by password alone" in done.text and "Lost second factor" not in done.text
    assert not has_second_factor(owner)
    assert "take second factor away" in client.get("/lab/history/").text


# --- Asked of admins


def test_an_admin_without_one_is_led_to_set_it_up(admin, db):
    require(admin)
    newcomer = User.objects.create_user(
        "second", PASSWORD, display_name="Sem Conder", initials="SC", role="admin"
    )
    client = Client()
    answer = sign_in(client, newcomer.username, next="/lab/people/")
    assert answer.url == PAGE
    assert "This lab asks its admins" in client.get(PAGE).text
    client.post(f"{PAGE}begin/")
    made = client.post(f"{PAGE}confirm/", {"current_password": PASSWORD, "code": app_code(newcomer)})
    assert made.status_code == 201
    assert client.get("/lab/people/").status_code == 200


def test_who_joins_as_an_admin_is_led_there_too(admin, client):
    require(admin)
    invite = create_invite(actor=admin, role="admin")
    newcomer = {"username": "newcomer", "display_name": "Nia Comer", "initials": "NC"}
    address = reverse("accounts:invite", args=[invite.token])
    assert client.post(address, newcomer | {"password": "wedge-and-tank"}).url == PAGE


def require(admin):
    turn_on_second_factor(admin)
    settings = {"name": "Lab", "contact": "", "admins_need_second_factor": "on"}
    client = Client()
    client.force_login(admin)
    assert client.post("/lab/settings/", settings).status_code == 302
