"""Production mode in a process of its own, with the variables of the compose file: checks and secrets."""

import os
import subprocess
import sys

import pytest

from tests.architecture.sources import ROOT

PRODUCTION = {
    "LABSITE_MODE": "production",
    "LABSITE_SECRET_KEY": "only-of-this-test-" + "0123456789abcdefghijklmnopqrstuvwxyz" * 2,
    "LABSITE_ALLOWED_HOSTS": "lab.example.org",
    "LABSITE_DATABASE_URL": "postgresql://lab@db:5432/lab",
    "LABSITE_DATABASE_PASSWORD": "secret-of-the-database",
    "LABSITE_REDIS_URL": "redis://redis:6379/0",
    "LABSITE_REDIS_PASSWORD": "secret-of-redis",
    "LABSITE_TRUSTED_PROXIES": "1",
}


def manage(*arguments, **changes):
    """Run manage.py in production mode; a change to None takes a variable away."""
    ours = {name: value for name, value in os.environ.items() if not name.startswith(("LABSITE_", "DJANGO_"))}
    ours |= {"LABSITE_NO_BOOTSTRAP": "1", **PRODUCTION, **changes}
    environment = {name: value for name, value in ours.items() if value is not None}
    command = [sys.executable, "manage.py", *arguments]
    return subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, check=False)


def test_deployment_checks_find_nothing(tmp_path):
    result = manage("check", "--deploy", "--fail-level", "WARNING", LABSITE_DATA_DIR=str(tmp_path))
    assert result.returncode == 0, result.stderr
    assert "no issues" in result.stdout
    assert list(tmp_path.iterdir()) == []  # production makes no secret of its own


def test_a_site_without_https_is_warned_about():
    result = manage("check", "--deploy", "--fail-level", "WARNING", LABSITE_HTTPS="0")
    assert result.returncode == 1
    assert "labsite.W002" in result.stderr


def test_https_behind_a_proxy_that_is_not_trusted_is_warned_about():
    result = manage("check", "--deploy", "--fail-level", "WARNING", LABSITE_TRUSTED_PROXIES="0")
    assert result.returncode == 1
    assert "labsite.W003" in result.stderr


def test_a_misspelt_variable_is_warned_about():
    result = manage("check", LABSITE_ALOWED_HOSTS="lab.example.org")
    assert "LABSITE_ALOWED_HOSTS is set but nothing reads it" in result.stderr
    assert "Did you mean LABSITE_ALLOWED_HOSTS?" in result.stderr


@pytest.mark.parametrize(
    "name", ["LABSITE_SECRET_KEY", "LABSITE_ALLOWED_HOSTS", "LABSITE_DATABASE_URL", "LABSITE_REDIS_URL"]
)
def test_nothing_that_production_needs_has_a_default(name):
    result = manage("check", **{name: None})
    assert result.returncode == 1
    assert result.stderr.startswith(f"{name} must be set")
    assert "Traceback" not in result.stderr


@pytest.mark.parametrize(
    ("setting", "value"),
    [
        ("DEBUG", "False"),
        ("SESSION_COOKIE_SECURE", "True"),
        ("CSRF_COOKIE_SECURE", "True"),
        ("SECURE_SSL_REDIRECT", "True"),
        ("SECURE_HSTS_SECONDS", "31536000"),
        ("CELERY_BROKER_URL", "redis://:secret-of-redis@redis:6379/0"),
        ("SECURE_PROXY_SSL_HEADER", "('HTTP_X_FORWARDED_PROTO', 'https')"),
    ],
)
def test_settings(production_settings, setting, value):
    assert production_settings[setting] == value


def test_the_debug_switch_does_nothing_in_production():
    result = manage(
        "shell", "-v", "0", "-c", "from django.conf import settings; print(settings.DEBUG)", LABSITE_DEBUG="1"
    )
    assert result.stdout.strip() == "False"


@pytest.fixture(scope="module")
def production_settings():
    """Every setting of production mode as it prints."""
    code = (
        "from django.conf import settings\n"
        "for name in dir(settings):\n"
        "    if name.isupper(): print(name, getattr(settings, name), sep='\\t')"
    )
    result = manage("shell", "-v", "0", "-c", code)
    assert result.returncode == 0, result.stderr
    return dict(line.split("\t", 1) for line in result.stdout.splitlines() if "\t" in line)


def test_serve_is_not_for_production():
    result = manage("serve", "--port", "0")
    assert result.returncode == 1
    assert "in production gunicorn serves the pages" in result.stderr
    assert "Traceback" not in result.stderr
