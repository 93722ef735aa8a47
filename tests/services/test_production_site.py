"""A production lab on a real PostgreSQL: prepared once, then served behind a proxy that speaks HTTPS."""

import http.client
import os
import re
import subprocess
import sys
import time
from pathlib import Path

import psycopg
import pytest

from tests.architecture.sources import ROOT
from tests.private_servers import free_port

pytestmark = pytest.mark.services

START_LIMIT_S = 60


@pytest.fixture(scope="module")
def environment(private_postgres, private_redis, tmp_path_factory):
    """Production's variables, for a database of this module's own."""
    with psycopg.connect(private_postgres.url, autocommit=True) as connection:
        connection.execute("CREATE DATABASE production_site")
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("LABSITE_", "DJANGO_"))}
    return kept | {
        "LABSITE_NO_BOOTSTRAP": "1",
        "LABSITE_MODE": "production",
        "LABSITE_DATA_DIR": str(tmp_path_factory.mktemp("production")),
        "LABSITE_SECRET_KEY": "only-of-this-test-" + "0123456789abcdefghijklmnopqrstuvwxyz" * 2,
        "LABSITE_ALLOWED_HOSTS": "lab.example.org",
        "LABSITE_DATABASE_URL": private_postgres.url.replace("/postgres", "/production_site"),
        "LABSITE_REDIS_URL": private_redis.url,
        "LABSITE_TRUSTED_PROXIES": "1",
    }


def manage(environment, *arguments):
    """Run manage.py; what it printed."""
    command = [sys.executable, "manage.py", *arguments]
    result = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, check=False)
    assert result.returncode == 0, result.stderr
    return result.stdout


@pytest.fixture(scope="module")
def link(environment):
    """The path of the first admin's link, as ``prepare`` prints it."""
    said = manage(environment, "prepare")
    assert "Applying accounts.0001_initial... OK" in said
    return re.search(r"Become the first one at https://lab\.example\.org(/first-admin/\S+)", said).group(1)


@pytest.fixture(scope="module")
def ask(environment, link):
    """``ask(path, **headers)``: one request to the served site, from where its proxy would be."""
    manage(environment, "collectstatic", "--noinput", "-v", "0")
    port = free_port()
    server = Path(sys.prefix) / "bin" / "waitress-serve"
    command = [
        server,
        f"--listen=127.0.0.1:{port}",
        "--no-clear-untrusted-proxy-headers",
        "labsite.wsgi:application",
    ]
    process = subprocess.Popen(
        command, cwd=ROOT, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )

    def request(path, **headers):
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=START_LIMIT_S)
        try:
            connection.request("GET", path, headers={"Host": "lab.example.org", **headers})
            response = connection.getresponse()
            return response.status, response.headers, response.read().decode()
        finally:
            connection.close()

    try:
        deadline = time.monotonic() + START_LIMIT_S
        while True:
            try:
                request("/healthz/")
                break
            except ConnectionRefusedError:
                assert process.poll() is None and time.monotonic() < deadline
                time.sleep(0.1)
        yield request
    finally:
        process.terminate()
        process.wait()


def test_preparing_again_changes_nothing_and_prints_a_link_while_it_is_needed(environment, link):
    said = manage(environment, "prepare")
    assert "No migrations to apply." in said
    assert "Become the first one at" in said


def test_plain_http_is_sent_on_to_https(ask, link):
    status, headers, _ = ask(link)
    assert status == 301
    assert headers["Location"] == f"https://lab.example.org{link}"


def test_behind_the_proxy_pages_and_cookies_are_secure(ask, link):
    status, headers, body = ask(link, **{"X-Forwarded-Proto": "https", "X-Forwarded-For": "203.0.113.9"})
    assert status == 200
    assert "max-age=31536000" in headers["Strict-Transport-Security"]
    cookies = headers.get_all("Set-Cookie")
    assert cookies
    assert all("Secure" in cookie and "SameSite=Lax" in cookie for cookie in cookies)
    assert re.search(r'href="/static/css/base\.[0-9a-f]{12}\.css"', body)


def test_another_host_name_is_refused(ask):
    status, _, _ = ask("/", Host="elsewhere.example", **{"X-Forwarded-Proto": "https"})
    assert status == 400


def test_the_container_may_ask_itself_without_https(ask):
    status, _, body = ask("/healthz/", Host="127.0.0.1:8000")
    assert status == 200
    assert '"database": "ok"' in body


def test_where_admins_sign_in_by_password_alone_preparing_and_the_check_say_so(environment, link):
    words = "Admins sign in with a password alone."
    assert words not in manage(environment, "prepare")  # nobody is an admin yet
    code = (
        "from labsite.accounts.services import create_first_admin as make\n"
        f"make(token={link.split('/')[-2]!r}, username='ada', display_name='Ada', initials='A',"
        " password='wedge-and-tank')"
    )
    manage(environment, "shell", "-v", "0", "-c", code)
    assert words in manage(environment, "prepare")
    command = [sys.executable, "manage.py", "check", "--deploy", "--database", "default"]
    result = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, check=False)
    assert result.returncode == 0
    assert f"(labsite.W004) {words}" in result.stderr
