"""A production lab on a real PostgreSQL: prepared once, then served behind a proxy that speaks HTTPS."""

import re

import pytest

from tests.services.production_lab import BEHIND_THE_PROXY, ProductionLab

pytestmark = pytest.mark.services


@pytest.fixture(scope="module")
def lab(private_postgres, private_redis, tmp_path_factory):
    lab = ProductionLab(private_postgres, private_redis, tmp_path_factory.mktemp("production-site"))
    try:
        yield lab
    finally:
        lab.close()


@pytest.fixture(scope="module")
def link(lab):
    """The path of the first admin's link, as ``prepare`` prints it."""
    said = lab.manage("prepare")
    assert "Applying accounts.0001_initial... OK" in said
    return re.search(r"Become the first one at https://lab\.example\.org(/first-admin/\S+)", said).group(1)


@pytest.fixture(scope="module")
def ask(lab, link):
    """Ask the served site."""
    lab.serve()
    return lab.ask


def test_preparing_again_changes_nothing_and_prints_a_link_while_it_is_needed(lab, link):
    said = lab.manage("prepare")
    assert "No migrations to apply." in said
    assert "Become the first one at" in said


def test_plain_http_is_sent_on_to_https(ask, link):
    answer = ask(link)
    assert answer.status_code == 301
    assert answer["Location"] == f"https://lab.example.org{link}"


def test_behind_the_proxy_pages_and_cookies_are_secure(ask, link):
    answer = ask(link, **BEHIND_THE_PROXY)
    assert answer.status_code == 200
    assert "max-age=31536000" in answer["Strict-Transport-Security"]
    cookies = answer.headers.get_all("Set-Cookie")
    assert cookies
    assert all("Secure" in cookie and "SameSite=Lax" in cookie for cookie in cookies)
    assert re.search(r'href="/static/css/base\.[0-9a-f]{12}\.css"', answer.text)


def test_another_host_name_is_refused(ask):
    assert ask("/", Host="elsewhere.example", **BEHIND_THE_PROXY).status_code == 400


def test_the_container_may_ask_itself_without_https(ask):
    answer = ask("/healthz/", Host="127.0.0.1:8000")
    assert answer.status_code == 200
    assert '"database": "ok"' in answer.text


def test_where_admins_sign_in_by_password_alone_preparing_and_the_check_say_so(lab, link):
    words = "Admins sign in with a password alone."
    assert words not in lab.manage("prepare")  # nobody is an admin yet
    code = (
        "from labsite.accounts.services import create_first_admin as make\n"
        f"make(token={link.split('/')[-2]!r}, username='ada', display_name='Ada', initials='A',"
        " password='wedge-and-tank')"
    )
    lab.do(code)
    assert words in lab.manage("prepare")
    result = lab.try_manage("check", "--deploy", "--database", "default")
    assert result.returncode == 0
    assert f"(labsite.W004) {words}" in result.stderr
