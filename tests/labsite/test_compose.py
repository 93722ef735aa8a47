"""The compose file is one that Compose itself takes, and keeps its promises about secrets and ports."""

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from labsite import env
from tests.architecture.sources import ROOT


def compose(*arguments, **environment):
    """Run the real Compose, without an engine."""
    kept = {name: os.environ[name] for name in ("PATH", "HOME") if name in os.environ}
    command = [Path(sys.prefix) / "bin" / "docker-compose", *arguments]
    return subprocess.run(
        command, cwd=ROOT, env=kept | environment, capture_output=True, text=True, check=False
    )


@pytest.fixture(scope="module")
def composed():
    """The file as Compose understands it."""
    result = compose("config", "--format", "json", LABSITE_ALLOWED_HOSTS="lab.example.org")
    assert result.returncode == 0, result.stderr
    return json.loads(result.stdout)


def test_the_host_names_are_asked_for():
    result = compose("config", "--quiet")
    assert result.returncode != 0
    assert "LABSITE_ALLOWED_HOSTS" in result.stderr


def test_only_the_pages_are_published_and_only_on_this_machine(composed):
    ports = {name: service.get("ports", []) for name, service in composed["services"].items()}
    assert {name for name, published in ports.items() if published} == {"web"}
    assert [port["host_ip"] for port in ports["web"]] == ["127.0.0.1"]


def test_no_password_stands_in_the_file(composed):
    for service in composed["services"].values():
        for name, value in service.get("environment", {}).items():
            if re.search(r"PASSWORD|SECRET", name):
                assert name.endswith("_FILE")
                assert value.startswith("/run/secrets/")


def test_every_variable_of_the_site_is_one_that_is_read(composed):
    known = {env.PREFIX + name for name in env.KNOWN}
    given = {name for name in composed["services"]["web"]["environment"] if name.startswith(env.PREFIX)}
    assert {name.removesuffix("_FILE") for name in given} <= known


def test_redis_keeps_its_queue_and_refuses_rather_than_forgets(composed):
    command = " ".join(composed["services"]["redis"]["command"])
    for option in (
        "--appendonly yes",
        "--appendfsync everysec",
        "--maxmemory-policy noeviction",
        "--requirepass",
    ):
        assert option in command


def test_containers_of_the_site_may_do_little(composed):
    for name in ("setup", "web", "worker"):
        service = composed["services"][name]
        assert service["read_only"] is True
        assert service["cap_drop"] == ["ALL"]
        assert service["security_opt"] == ["no-new-privileges:true"]


def test_make_secrets_makes_each_once(tmp_path):
    (tmp_path / "labsite" / "deploy").mkdir(parents=True)
    script = tmp_path / "labsite" / "deploy" / "make-secrets"
    script.write_bytes((ROOT / "labsite/deploy/make-secrets").read_bytes())
    subprocess.run(["sh", script], check=True)
    made = {path.name: path.read_text() for path in (tmp_path / ".secrets").iterdir()}
    assert set(made) == {"secret_key", "database_password", "redis_password"}
    assert len(set(made.values())) == 3
    assert all(re.fullmatch(r"[0-9a-f]{64}", secret) for secret in made.values())
    assert (tmp_path / ".secrets").stat().st_mode & 0o777 == 0o700
    subprocess.run(["sh", script], check=True)
    assert {path.name: path.read_text() for path in (tmp_path / ".secrets").iterdir()} == made


def test_the_image_gets_every_package_of_the_site():
    dockerfile = (ROOT / "labsite/deploy/Dockerfile").read_text()
    for name in ("labsite", "curves", "scans"):
        if (ROOT / name).is_dir():
            assert f"COPY {name} {name}" in dockerfile
            assert f"!{name}" in (ROOT / "labsite/deploy/Dockerfile.dockerignore").read_text()


def test_the_tests_run_what_production_runs():
    def packages(name):
        return {line for line in (ROOT / name).read_text().split() if "==" in line}

    assert packages("labsite/deploy/requirements.txt") <= packages("tests/requirements.txt")
