"""``serve`` as a person starts it: a real process, an empty folder, a browser's requests, a clean end."""

import contextlib
import http.client
import json
import os
import re
import signal
import socket
import sqlite3
import subprocess
import sys
import time

import pytest
from django.core.management import CommandError

from labsite import serving
from tests.architecture.sources import ROOT
from tests.private_servers import free_port

# A cold start on a busy machine of two cores took 3 s: migrations, static files, imports.
START_LIMIT_S = 60
# Ending everything took 0.01 s and the interpreter's own exit 0.3 s on an idle machine; up to 3.3 s was
# seen where six processes shared two cores.
STOP_LIMIT_S = 5.0


@contextlib.contextmanager
def served(folder, port, **environment):
    """A ``serve`` process that has said its address; ended at the end, whatever happened."""
    ours = {name: value for name, value in os.environ.items() if not name.startswith(("LABSITE_", "DJANGO_"))}
    ours |= {"LABSITE_NO_BOOTSTRAP": "1", "LABSITE_DATA_DIR": str(folder), **environment}
    command = [sys.executable, "manage.py", "serve", "--port", str(port)]
    process = subprocess.Popen(
        command, cwd=ROOT, env=ours, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    try:
        process.said = process.stdout.readline()
        yield process
    finally:
        process.kill()
        process.communicate()


def ask(port, path, **headers):
    """One request; the status, headers and body of the answer."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=START_LIMIT_S)
    try:
        connection.request("GET", path, headers=headers)
        response = connection.getresponse()
        return response.status, response.headers, response.read()
    finally:
        connection.close()


def test_an_empty_folder_becomes_a_lab_that_stops_when_told(tmp_path):
    port = free_port()
    with served(tmp_path, port) as process:
        assert process.said == f"Common Grey is at http://127.0.0.1:{port}/ (Ctrl-C stops it).\n"
        link = re.search(rf"http://127\.0\.0\.1:{port}(/first-admin/\S+)", process.stdout.readline()).group(1)
        status, headers, body = ask(port, link)
        assert status == 200
        assert headers["Server"] is None
        assert "'unsafe" not in headers["Content-Security-Policy"]

        # Static files have names of their content, so they may be kept for ever; they come compressed.
        sheet = re.search(r'href="(/static/css/base\.[0-9a-f]{12}\.css)"', body.decode()).group(1)
        status, headers, _ = ask(port, sheet, **{"Accept-Encoding": "gzip"})
        assert status == 200
        assert "immutable" in headers["Cache-Control"]
        assert headers["Content-Encoding"] == "gzip"

        # The runner thread lives: its first canary comes through.
        deadline = time.monotonic() + START_LIMIT_S
        while (health := json.loads(ask(port, "/healthz/")[2]))["jobs"]["state"] != "ok":
            assert time.monotonic() < deadline, health
            time.sleep(0.1)

        started = time.monotonic()
        process.send_signal(signal.SIGTERM)
        assert process.wait(START_LIMIT_S) == 0
        assert time.monotonic() - started < STOP_LIMIT_S
        assert "Traceback" not in process.stderr.read()

    with contextlib.closing(sqlite3.connect(tmp_path / "lab.sqlite3")) as database:
        assert database.execute("PRAGMA journal_mode").fetchone() == ("wal",)
        assert database.execute("PRAGMA integrity_check").fetchone() == ("ok",)

    # The second start finds everything in place: nothing is collected again.
    collected = (tmp_path / "static" / "collected").stat().st_mtime_ns
    with served(tmp_path, port) as process:
        assert process.said.startswith("Common Grey is at")
        process.send_signal(signal.SIGINT)
        assert process.wait(START_LIMIT_S) == 0
    assert (tmp_path / "static" / "collected").stat().st_mtime_ns == collected


def test_a_taken_port_is_one_sentence_and_changes_nothing(tmp_path):
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        with served(tmp_path, port) as process:
            assert process.wait(START_LIMIT_S) == 1
            said = process.stderr.read()
    words = f"Port {port} on 127.0.0.1 is taken by another program: choose another with --port."
    assert said == f"CommandError: {words}\n"
    assert not (tmp_path / "lab.sqlite3").exists()


@pytest.mark.parametrize(
    ("host", "port", "words"),
    [("127.0.0.1", 70000, "port 70000"), ("no-such-host.invalid", 8000, "no-such-host.invalid")],
)
def test_an_address_that_cannot_be_is_one_sentence(host, port, words):
    with pytest.raises(CommandError, match=f"Nothing can listen on .*{words}"):
        serving.listen(host, port)


@pytest.mark.parametrize(("host", "shown"), [("127.0.0.1", "127.0.0.1"), ("0.0.0.0", "127.0.0.1")])
def test_the_address_is_one_that_a_browser_opens(host, shown):
    with serving.listen(host, 0) as listener:
        assert serving.address_of(listener) == f"http://{shown}:{listener.getsockname()[1]}/"
