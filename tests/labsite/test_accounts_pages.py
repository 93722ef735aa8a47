"""The accounts pages: what was typed stays, secrets show once, and each page asks few questions."""

import re

import pytest
from django.core.cache import cache
from django.test import Client
from django.urls import reverse

from labsite.accounts.context import THEMES
from labsite.accounts.models import ApiToken, AuditRecord, Invite, User
from labsite.accounts.services import create_invite, first_admin_link, issue_token
from labsite.accounts.services.sign_in import LIMIT

PASSWORD = "grey-card-18"
NEWCOMER = {
    "username": "newcomer",
    "display_name": "Nia Comer",
    "initials": "NC",
    "password": "wedge-and-tank",
}


def sign_in(client, username="owner", password=PASSWORD, **more):
    return client.post("/account/sign-in/", {"username": username, "password": password, **more})


# --- Who may open what


MEMBER_PAGES = ["profile", "password", "second_factor", "tokens"]
ADMIN_PAGES = ["people", "history", "lab_settings"]


@pytest.mark.parametrize("name", MEMBER_PAGES)
def test_members_open_their_own_pages(client_for, owner, admin, visitor, name):
    path = reverse(f"accounts:{name}")
    assert [client_for(user).get(path).status_code for user in (owner, admin)] == [200, 200]
    asked = client_for(visitor).get(path)
    assert (asked.status_code, asked.url) == (302, f"/account/sign-in/?next={path}")


@pytest.mark.parametrize("name", ADMIN_PAGES)
def test_only_admins_open_the_pages_of_the_lab(client_for, owner, admin, visitor, name):
    path = reverse(f"accounts:{name}")
    assert [client_for(user).get(path).status_code for user in (admin, owner, visitor)] == [200, 403, 302]


def test_only_admins_open_and_change_an_account(client_for, owner, admin, labmate, visitor):
    for name in ("person", "change_role", "retire", "reactivate", "password_link"):
        path = reverse(f"accounts:{name}", args=[labmate.pk])
        assert client_for(owner).post(path).status_code == 403
        assert client_for(visitor).post(path).status_code == 403
    assert client_for(admin).get(reverse("accounts:person", args=[labmate.pk])).status_code == 200
    assert client_for(admin).get(reverse("accounts:person", args=[labmate.pk + 99])).status_code == 404


def test_monitors_may_ask_for_the_head_of_a_page(client_for, admin):
    paths = [reverse(f"accounts:{name}") for name in MEMBER_PAGES + ADMIN_PAGES]
    assert {client_for(admin).head(path).status_code for path in paths} == {200}


@pytest.mark.parametrize("name", ["sign_out", "sign_out_everywhere", "theme"])
def test_a_link_alone_changes_nothing(client_for, owner, name):
    assert client_for(owner).get(reverse(f"accounts:{name}")).status_code == 405


def test_a_form_from_elsewhere_is_refused(owner):
    client = Client(enforce_csrf_checks=True)
    assert sign_in(client).status_code == 403


# --- Signing in and out


def test_signing_in_leads_where_one_wanted_to_go_under_a_new_session_key(client, owner):
    planted = client.session
    planted["planted"] = True
    planted.save()
    before = planted.session_key
    answer = sign_in(client, next="/account/tokens/")
    assert (answer.status_code, answer.url) == (302, "/account/tokens/")
    assert client.session.session_key != before
    assert client.session["_auth_user_id"] == str(owner.pk)


@pytest.mark.parametrize("elsewhere", ["https://example.org/", "//example.org/", "javascript:alert(1)"])
def test_signing_in_never_leads_to_another_site(client, owner, elsewhere):
    assert sign_in(client, next=elsewhere).url == "/"


def test_a_refused_sign_in_keeps_the_name_and_not_the_password(client, owner):
    answer = sign_in(client, password="wrong-pass-1", next="/account/tokens/")
    page = answer.content.decode()
    assert answer.status_code == 400
    assert "do not belong together" in page
    assert 'value="owner"' in page
    assert 'value="/account/tokens/"' in page
    assert "wrong-pass-1" not in page


def test_too_many_tries_are_told_apart_for_machines(client, owner):
    cache.clear()  # the count must not live there
    for _ in range(LIMIT):
        assert sign_in(client, password="wrong").status_code == 400
    cache.clear()
    answer = sign_in(client)
    assert answer.status_code == 429
    assert "Too many tries" in answer.content.decode()


def test_forged_addresses_do_not_widen_the_limit(client, owner):
    for n in range(LIMIT):
        client.post(
            "/account/sign-in/",
            {"username": f"guess{n}", "password": "wrong"},
            headers={"X-Forwarded-For": f"198.51.100.{n}"},
        )
    assert sign_in(client).status_code == 429


def test_a_trusted_proxy_tells_clients_apart(client, owner, settings):
    settings.TRUSTED_PROXIES = 1
    data = {"username": "guess", "password": "wrong"}
    for n in range(LIMIT):
        forged = {"X-Forwarded-For": f"198.51.100.{n}, 203.0.113.5"}
        client.post("/account/sign-in/", data | {"username": f"guess{n}"}, headers=forged)
    right = {"username": "owner", "password": PASSWORD}
    blocked = client.post("/account/sign-in/", right, headers={"X-Forwarded-For": "203.0.113.5"})
    passed = client.post("/account/sign-in/", right, headers={"X-Forwarded-For": "203.0.113.6"})
    assert (blocked.status_code, passed.status_code) == (429, 302)


def test_signing_out_ends_the_session(client_for, owner):
    client = client_for(owner)
    assert client.post("/account/sign-out/").status_code == 302
    assert client.get("/account/").status_code == 302


def test_signing_out_everywhere_ends_this_session_too(client_for, owner):
    here, there = client_for(owner), client_for(owner)
    assert here.post("/account/sign-out-everywhere/").url == "/account/sign-in/"
    assert [client.get("/account/").status_code for client in (here, there)] == [302, 302]


# --- Joining


def test_an_empty_lab_says_where_its_first_link_is(client, db):
    assert "has no admin yet" in client.get("/account/sign-in/").content.decode()


@pytest.mark.django_db
def test_the_first_admin_is_made_and_signed_in(client):
    link = first_admin_link()
    assert client.get(link).status_code == 200
    assert client.post(link, NEWCOMER).status_code == 302
    assert client.get("/lab/people/").status_code == 200
    assert Client().get(link).status_code == 410


def test_an_invite_is_made_shown_once_and_used(client_for, client, admin):
    inviting = client_for(admin)
    page = inviting.post("/lab/people/", {"note": "For Nia", "role": "member", "days": 7}).content.decode()
    (path,) = set(re.findall(r"http://testserver(/invite/[\w-]{43}/)", page))
    assert "/invite/" not in inviting.get("/lab/people/").content.decode().replace("/invites/", "")
    assert client.get(path).status_code == 200
    assert client.post(path, NEWCOMER).status_code == 302
    assert client.get("/account/").status_code == 200
    assert User.objects.get(username="newcomer").role == "member"
    assert Client().get(path).status_code == 410


def test_a_forgotten_password_is_set_anew_by_a_link_shown_once(client_for, client, admin, owner):
    helping = client_for(admin)
    page = helping.post(reverse("accounts:password_link", args=[owner.pk])).content.decode()
    (path,) = set(re.findall(r"http://testserver(/new-password/[\w-]{43}/)", page))
    assert "/new-password/" not in helping.get("/lab/people/").content.decode()
    assert "owner" in client.get(path).content.decode()
    refused = client.post(path, {"new_password": "short"})
    assert refused.status_code == 400 and "too short" in refused.content.decode()
    assert client.post(path, {"new_password": "wedge-and-tank"}).status_code == 302
    assert client.session["_auth_user_id"] == str(owner.pk)
    assert Client().get(path).status_code == 410


def test_a_refused_account_keeps_what_was_typed_but_the_password(client, admin):
    path = reverse("accounts:invite", args=[create_invite(actor=admin, role="member").token])
    answer = client.post(path, NEWCOMER | {"username": "Admin", "email": "nia@example.org"})
    page = answer.content.decode()
    assert answer.status_code == 400
    assert "This user name is taken" in page
    for kept in ("Nia Comer", "nia@example.org"):
        assert f'value="{kept}"' in page
    assert "wedge-and-tank" not in page
    assert not User.objects.filter(username="newcomer").exists()


def test_who_is_signed_in_is_not_changed_by_an_invite(client_for, owner, admin):
    path = reverse("accounts:invite", args=[create_invite(actor=admin, role="admin").token])
    client = client_for(owner)
    assert client.get(path).status_code == 403
    assert client.post(path, NEWCOMER).status_code == 403
    assert Invite.objects.get().state == "open"


def test_an_invite_is_revoked_once(client_for, admin):
    invite = create_invite(actor=admin, role="member").invite
    client = client_for(admin)
    path = reverse("accounts:revoke_invite", args=[invite.pk])
    assert "no longer works" in client.post(path, follow=True).content.decode()
    assert "revoked already" in client.post(path, follow=True).content.decode()


# --- People


def test_a_person_is_promoted_retired_and_let_back_in(client_for, admin, owner):
    client = client_for(admin)

    def post(name, **data):
        return client.post(reverse(f"accounts:{name}", args=[owner.pk]), data, follow=True).content.decode()

    assert "Ola Ownfield is admin" in post("change_role", role="admin")
    assert "Ola Ownfield is retired" in post("retire", reason="Moved away")
    assert "Ola Ownfield is admin" in post("reactivate")
    assert AuditRecord.objects.get(action="retire person").reason == "Moved away"


def test_a_refused_retirement_keeps_the_reason(client_for, admin):
    answer = client_for(admin).post(reverse("accounts:retire", args=[admin.pk]), {"reason": "Moved away"})
    page = answer.content.decode()
    assert answer.status_code == 400
    assert "the only admin" in page
    assert 'value="Moved away"' in page


def test_admins_who_demote_themselves_are_led_out(client_for, admin, owner):
    User.objects.filter(pk=owner.pk).update(role="admin")
    answer = client_for(admin).post(reverse("accounts:change_role", args=[admin.pk]), {"role": "member"})
    assert (answer.status_code, answer.url) == (302, "/")


def test_no_id_occurs_twice_on_a_page(client_for, admin, owner):
    create_invite(actor=admin, role="member")
    issue_token(actor=admin, name="Bench script")
    client = client_for(admin)
    paths = [reverse(f"accounts:{name}") for name in MEMBER_PAGES + ADMIN_PAGES]
    for path in [*paths, reverse("accounts:person", args=[owner.pk])]:
        ids = re.findall(r'\bid="([^"]+)"', client.get(path).content.decode())
        assert len(ids) == len(set(ids)), path


# --- One's own account


def test_a_profile_is_saved(client_for, owner):
    data = {"display_name": "Ola Newfield", "initials": "ON", "email": "", "credit": "name"}
    page = client_for(owner).post("/account/", data, follow=True).content.decode()
    assert "Your profile is saved" in page
    assert 'value="Ola Newfield"' in page


def test_a_form_sets_no_field_that_it_does_not_show(client_for, owner):
    data = {"display_name": "Ola", "initials": "O", "credit": "name", "role": "admin", "username": "root"}
    client_for(owner).post("/account/", data)
    owner.refresh_from_db()
    assert (owner.display_name, owner.role, owner.username) == ("Ola", "member", "owner")


def test_a_changed_password_keeps_this_session_only(client_for, owner):
    here, there = client_for(owner), client_for(owner)
    before = here.session.session_key
    data = {"current_password": PASSWORD, "new_password": "wedge-and-tank"}
    assert here.post("/account/password/", data).status_code == 302
    assert here.session.session_key != before
    assert [client.get("/account/").status_code for client in (here, there)] == [200, 302]


def test_a_refused_password_is_told_beside_its_field_and_not_sent_back(client_for, owner):
    data = {"current_password": "wrong-pass-1", "new_password": "wedge-and-tank"}
    answer = client_for(owner).post("/account/password/", data)
    page = answer.content.decode()
    assert answer.status_code == 400
    assert "not your present password" in page
    assert "wrong-pass-1" not in page and "wedge-and-tank" not in page


def test_a_token_is_shown_once_and_revoked(client_for, owner):
    client = client_for(owner)
    answer = client.post("/account/tokens/", {"name": "Bench script", "days": 30})
    (secret,) = set(re.findall(r"cg_[\w-]{43}", answer.content.decode()))
    assert "no-store" in answer["Cache-Control"]
    assert secret not in client.get("/account/tokens/").content.decode()
    token = ApiToken.objects.get()
    assert not token.is_read_only
    page = client.post(reverse("accounts:revoke_token", args=[token.pk]), follow=True).content.decode()
    assert "no longer works" in page
    token.refresh_from_db()
    assert token.state == "revoked"


# --- Theme, settings, history


@pytest.mark.parametrize("theme", THEMES)
def test_the_theme_is_kept_for_visitors_too(client, db, theme):
    answer = client.post("/account/theme/", {"theme": theme, "next": "/account/sign-in/?next=/x"})
    assert answer.url == "/account/sign-in/?next=/x"
    assert client.cookies["theme"]["httponly"]
    assert f'data-theme="{theme}"' in client.get("/account/sign-in/").content.decode()


def test_an_unknown_theme_is_refused_and_a_planted_one_ignored(client, db):
    assert client.post("/account/theme/", {"theme": "neon"}).status_code == 400
    client.cookies["theme"] = '"><script>'
    assert 'data-theme="system"' in client.get("/account/sign-in/").content.decode()


def test_settings_are_saved_and_refused_values_stay_in_the_form(client_for, admin):
    client = client_for(admin)
    good = {"name": "Quay Street Darkroom", "contact": "the board by the door"}
    assert "are saved" in client.post("/lab/settings/", good, follow=True).content.decode()
    answer = client.post("/lab/settings/", good | {"name": " ", "contact": "ask at the Pier Darkroom"})
    page = answer.content.decode()
    assert answer.status_code == 400
    assert 'aria-invalid="true"' in page
    assert 'value="ask at the Pier Darkroom"' in page


def test_the_history_pages_and_keeps_its_filters(client_for, admin):
    for n in range(120):
        create_invite(actor=admin, role="member", note=f"Guest {n:03}")
    client = client_for(admin)
    page = client.get("/lab/history/?about=guest&page=2").content.decode()
    assert "Guest 069" in page and "Guest 070" not in page and "Guest 119" not in page
    assert "about=guest&amp;page=3" in page
    assert "Guest 000" in client.get("/lab/history/?about=guest&page=99").content.decode()


@pytest.mark.parametrize("query", ["first_on=yesterday", "person_id=0", "action=fly"])
def test_a_filter_that_makes_no_sense_is_refused(client_for, admin, query):
    assert client_for(admin).get(f"/lab/history/?{query}").status_code == 400


def test_the_history_links_changes_to_their_request(client_for, admin, owner):
    client = client_for(admin)
    answer = client.post(reverse("accounts:change_role", args=[owner.pk]), {"role": "admin"})
    assert AuditRecord.objects.get().request_id == answer["X-Request-ID"]
    assert "role: member → admin" in client.get("/lab/history/").content.decode()


def test_names_are_shown_as_text(client_for, admin, owner):
    User.objects.filter(pk=owner.pk).update(display_name="<script>alert(1)</script>")
    page = client_for(admin).get("/lab/people/").content.decode()
    assert "<script>alert" not in page and "&lt;script&gt;alert" in page


@pytest.mark.parametrize(
    ("name", "budget"),
    # Session, reader, lab settings and whether this admin lacks a second factor that is asked for are four;
    # a list and its filters add what they must.
    [
        ("profile", 4),
        ("password", 4),
        ("second_factor", 5),
        ("tokens", 5),
        ("people", 6),
        ("lab_settings", 5),
        ("history", 8),
    ],
)
def test_pages_ask_few_questions_however_long_the_list(
    client_for, admin, django_assert_max_num_queries, name, budget
):
    for n in range(30):
        User.objects.create_user(f"member{n}", None, display_name=f"Member {n}", initials="M")
        create_invite(actor=admin, role="member")
        issue_token(actor=admin, name=f"Script {n}")
    client = client_for(admin)
    with django_assert_max_num_queries(budget):
        assert client.get(reverse(f"accounts:{name}")).status_code == 200
