"""A production lab as the image and the compose file run it: their own commands, on real servers."""

import contextlib
import http.client
import json
import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import psycopg
import yaml

from tests.architecture.sources import ROOT
from tests.factories.scripts import API, Script, check_answer
from tests.private_servers import free_port
from tests.services.drill_lab import wait_until

START_LIMIT_S = 60
HOST = "lab.example.org"
BEHIND_THE_PROXY = {"X-Forwarded-Proto": "https", "X-Forwarded-For": "203.0.113.9"}


def pages_command() -> list[str]:
    """What the image starts."""
    lines = (ROOT / "labsite/deploy/Dockerfile").read_text().splitlines()
    (command,) = [line.removeprefix("CMD ") for line in lines if line.startswith("CMD ")]
    return json.loads(command)


def worker_command() -> list[str]:
    """What the compose file starts as a worker."""
    return yaml.safe_load((ROOT / "docker-compose.yml").read_text())["services"]["worker"]["command"]


@dataclass(frozen=True)
class Answer:
    """What came back over the line, with the names that Django's own answers have."""

    status_code: int
    headers: http.client.HTTPMessage
    content: bytes

    def __getitem__(self, header: str) -> str:
        return self.headers[header]

    @property
    def text(self) -> str:
        """The body as text."""
        return self.content.decode()

    def json(self):
        """The body as data."""
        return json.loads(self.content)


class ProductionLab:
    """Its variables, its database, and the processes that were started."""

    def __init__(self, postgres, redis, folder: Path):
        self.folder = folder
        self.port = free_port()
        self.processes = []
        database = folder.name.replace("-", "_")
        with psycopg.connect(postgres.url, autocommit=True) as connection:
            connection.execute(f'CREATE DATABASE "{database}"')
        kept = {n: value for n, value in os.environ.items() if not n.startswith(("LABSITE_", "DJANGO_"))}
        self.environment = kept | {
            "PATH": os.pathsep.join([str(Path(sys.prefix) / "bin"), os.environ["PATH"]]),
            "PYTHONUNBUFFERED": "1",
            "LABSITE_NO_BOOTSTRAP": "1",
            "LABSITE_MODE": "production",
            "LABSITE_DATA_DIR": str(folder),
            "LABSITE_SECRET_KEY": "only-of-this-test-" + "0123456789abcdefghijklmnopqrstuvwxyz" * 2,
            "LABSITE_ALLOWED_HOSTS": HOST,
            "LABSITE_DATABASE_URL": postgres.url.replace("/postgres", f"/{database}"),
            "LABSITE_REDIS_URL": redis.url,
            "LABSITE_TRUSTED_PROXIES": "1",
        }

    def manage(self, *arguments: str) -> str:
        """Run manage.py; what it printed."""
        result = self.try_manage(*arguments)
        assert result.returncode == 0, result.stderr
        return result.stdout

    def try_manage(self, *arguments: str) -> subprocess.CompletedProcess:
        """Run manage.py, whatever comes of it."""
        command = [sys.executable, "manage.py", *arguments]
        return subprocess.run(
            command, cwd=ROOT, env=self.environment, capture_output=True, text=True, check=False
        )

    def do(self, code: str) -> str:
        """Run lines of Python in the lab, as an admin at the console could; what they printed."""
        return self.manage("shell", "-v", "0", "-c", code).strip()

    def serve(self) -> None:
        """Start what serves the pages, and wait until it answers."""
        self.manage("collectstatic", "--noinput", "-v", "0")
        process = self._start("pages", [*pages_command(), "--bind", f"127.0.0.1:{self.port}"])

        def answers():
            assert process.poll() is None, self.log("pages")
            with contextlib.suppress(ConnectionError):
                return self.ask("/healthz/")

        wait_until(answers, START_LIMIT_S, "the pages are served")

    def work(self) -> None:
        """Start a worker, and wait until it takes messages."""
        process = self._start("worker", worker_command())

        def is_ready():
            assert process.poll() is None, self.log("worker")
            return " ready." in self.log("worker")

        wait_until(is_ready, START_LIMIT_S, "the worker takes messages")

    def ask(self, path: str, *, method: str = "GET", body: bytes | None = None, **headers: str) -> Answer:
        """One request, from where the lab's proxy would be."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=START_LIMIT_S)
        with contextlib.closing(connection):
            connection.request(method, path, body=body, headers={"Host": HOST} | headers)
            response = connection.getresponse()
            return Answer(response.status, response.headers, response.read())

    def log(self, name: str) -> str:
        """The end of what a process wrote."""
        return (self.folder / f"{name}.log").read_text(errors="replace")[-4000:]

    def close(self) -> None:
        """End all of its processes as a container's stop does."""
        for process in self.processes:
            process.terminate()
        for process in self.processes:
            process.wait(START_LIMIT_S)

    def _start(self, name: str, command: list[str]) -> subprocess.Popen:
        with (self.folder / f"{name}.log").open("wb") as log:
            process = subprocess.Popen(command, cwd=ROOT, env=self.environment, stdout=log, stderr=log)
        self.processes.append(process)
        return process


class RemoteScript(Script):
    """A script that speaks to a served lab; its answers are held against the document, too."""

    def __init__(self, lab: ProductionLab, token: str):
        self.lab = lab
        self.headers = BEHIND_THE_PROXY | {"Authorization": f"Token {token}"}

    def call(self, method: str, path: str, body=None, *, query=None, form=False):
        """Send a request and return its answer, checked against the document."""
        path = path if path.startswith("/") else API + path
        address = f"{path}?{query}" if query else path
        content = None if body is None else json.dumps(body).encode()
        headers = self.headers | ({} if body is None else {"Content-Type": "application/json"})
        answer = self.lab.ask(address, method=method.upper(), body=content, **headers)
        check_answer(method, path, answer)
        return answer
