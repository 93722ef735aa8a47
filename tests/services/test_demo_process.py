"""``manage.py demo`` as a real process: what it prints, that it serves, and that a second run keeps all."""

import os
import socket
import subprocess
import sys
from urllib.request import urlopen

import pytest

from tests.architecture.sources import ROOT

pytestmark = pytest.mark.services


@pytest.fixture
def demo(tmp_path):
    """``demo(*options)`` starts the command in a folder of the test's own and returns what it printed."""
    processes = []
    environment = {name: value for name, value in os.environ.items() if not name.startswith("LABSITE_")}
    environment |= {
        "LABSITE_DATA_DIR": str(tmp_path / "demo"),
        "LABSITE_NO_BOOTSTRAP": "1",
        "DJANGO_SETTINGS_MODULE": "labsite.settings",
        "PYTHONUNBUFFERED": "1",
    }

    def start(*options):
        process = subprocess.Popen(
            [sys.executable, "manage.py", "demo", *options],
            cwd=ROOT,
            env=environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        processes.append(process)
        lines = []
        for line in process.stdout:
            lines.append(line.rstrip())
            if line.strip().endswith("member") and "piet" in line:
                break
        return process, lines

    yield start
    for process in processes:
        process.kill()
        process.wait()
        process.stdout.close()


def address_in(lines):
    return next(line.split("is at ")[1].split()[0] for line in lines if "is at http" in line)


def test_the_demo_is_built_once_served_and_kept(demo):
    process, lines = demo("--port", "0", "--without-scans")
    accounts = [line.split() for line in lines if line.startswith("  ")]
    assert {account[0] for account in accounts} == {"warden", "keeper", "bram", "odile", "piet"}
    assert b"Demo data" in urlopen(address_in(lines)).read()
    assert urlopen(address_in(lines) + "healthz/").status == 200
    process.terminate()
    assert process.wait(timeout=30) == 0

    process, again = demo("--port", "0", "--without-scans")
    assert not any("Building" in line for line in again)
    assert [line.split() for line in again if line.startswith("  ")] == accounts
    assert b"Wrensfell 400" in urlopen(address_in(again) + "compare/").read()


def test_a_taken_port_is_a_sentence_and_nothing_is_built(demo, tmp_path):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        process, lines = demo("--port", str(taken.getsockname()[1]))
        assert process.wait(timeout=30) != 0
    assert "is taken by another program" in "\n".join(lines)
    assert "Traceback" not in "\n".join(lines)
    assert not (tmp_path / "demo" / "lab.sqlite3").exists()
