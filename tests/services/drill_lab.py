"""A production lab in small: its own database, a console that submits jobs, a real Celery worker."""

import contextlib
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import psycopg

from tests.private_servers import _end_with_parent

START_LIMIT_S = 40
ROOT = Path(__file__).resolve().parents[2]


def wait_until(condition, limit_s: float, what: str):
    """Wait until the condition gives something true, and give it; fail after the limit."""
    deadline = time.monotonic() + limit_s
    while True:
        if found := condition():
            return found
        if time.monotonic() > deadline:
            raise AssertionError(f"{what}: not within {limit_s:.0f} s")
        time.sleep(0.05)


class DrillLab:
    """Processes of one lab on a private PostgreSQL and the broker at ``redis_url``."""

    def __init__(
        self,
        postgres,
        redis_url: str,
        folder: Path,
        *,
        speed: float = 1,
        settings: str = "tests.services.drill_settings",
    ):
        self.folder = folder
        self.speed = speed
        self.database_url = f"{postgres.url.rsplit('/', 1)[0]}/{folder.name.replace('-', '_')}"
        with psycopg.connect(postgres.url, autocommit=True) as connection:
            connection.execute(f'CREATE DATABASE "{self.database_url.rsplit("/", 1)[1]}"')
        self.environment = {
            "PATH": os.environ["PATH"],
            "DJANGO_SETTINGS_MODULE": settings,
            "DRILL_SPEED": str(speed),
            "LABSITE_MODE": "production",
            "LABSITE_SECRET_KEY": "drill-" * 10,
            "LABSITE_ALLOWED_HOSTS": "localhost",
            "LABSITE_DATA_DIR": str(folder),
            "LABSITE_DATABASE_URL": self.database_url,
            "LABSITE_REDIS_URL": redis_url,
        }
        self._processes = []
        self.worker = None
        self._console = None
        self.run("django", "migrate", "--run-syncdb", "--verbosity=0")

    def submit(self, kind: str, count: int = 1, seconds: float = 0.0, **fields) -> dict:
        """Submit jobs as a page would."""
        if self._console is None:
            self._console = self._start([sys.executable, "-m", "tests.services.console"], piped=True)
            assert json.loads(self._console.stdout.readline()) == "ready"
        command = {"kind": kind, "count": count, "subject": {"seconds": seconds}, **fields}
        self._console.stdin.write(json.dumps(command) + "\n")
        self._console.stdin.flush()
        return json.loads(self._console.stdout.readline())

    def close_console(self) -> None:
        """End the console; the next job is submitted by a new one."""
        if self._console is not None:
            self._console.stdin.close()
            self._console.wait(10)
            self._console.stdout.close()
            self._console = None

    def start_worker(self, *, children: int = 2) -> float:
        """Start a worker, if none runs, and wait until it takes messages; how long that took, in s."""
        if self.worker is not None and self.worker.poll() is None:
            return 0.0
        began = time.monotonic()
        log = self.folder / "worker.log"
        seen = log.stat().st_size if log.exists() else 0
        options = ["-A", "labsite", "worker", "--concurrency", str(children), "--loglevel", "INFO"]
        options += ["--without-gossip", "--without-mingle"]
        self.worker = self._start([sys.executable, "-m", "celery", *options])

        def is_ready():
            assert self.worker.poll() is None, self.worker_log()
            return b" ready." in log.read_bytes()[seen:]

        wait_until(is_ready, START_LIMIT_S, "worker starts")
        return time.monotonic() - began

    def kill_worker(self) -> None:
        """SIGKILL to the worker and all its children at once."""
        os.killpg(self.worker.pid, signal.SIGKILL)
        self.worker.wait()

    def worker_log(self) -> str:
        """The end of what the worker wrote."""
        return (self.folder / "worker.log").read_text(errors="replace")[-4000:]

    def rows(self, query: str, *values) -> list[tuple]:
        """Look into the database, past all of our own code."""
        with psycopg.connect(self.database_url) as connection:
            return connection.execute(query, values).fetchall()

    def states(self, ids) -> list[str]:
        """The states of the jobs."""
        return [state for (state,) in self.rows("SELECT state FROM jobs_job WHERE id = ANY(%s)", list(ids))]

    def wait_for_state(self, ids, state: str, limit_s: float) -> float:
        """Wait until every job is in the state; how long that took, in s."""
        began = time.monotonic()

        def all_there():
            return set(self.states(ids)) == {state}

        try:
            wait_until(all_there, limit_s, f"{len(ids)} jobs are {state}")
        except AssertionError as fault:
            raise AssertionError(f"{fault}; they are {self.states(ids)}\n{self.worker_log()}") from None
        return time.monotonic() - began

    def count(self, table: str, ids) -> int:
        """How many drill rows of a table belong to the jobs."""
        query = f"SELECT count(*) FROM drills_{table} WHERE job_id = ANY(%s)"  # noqa: S608
        return self.rows(query, list(ids))[0][0]

    def run(self, module: str, *arguments: str) -> str:
        """Run a module in a process of this lab; what it printed."""
        command = [sys.executable, "-m", module, *arguments]
        result = subprocess.run(
            command, cwd=ROOT, env=self.environment, capture_output=True, text=True, timeout=240, check=False
        )
        assert result.returncode == 0, result.stderr
        return result.stdout

    def close(self) -> None:
        """End every process."""
        for process in self._processes:
            with contextlib.suppress(ProcessLookupError):
                os.killpg(process.pid, signal.SIGKILL)
            process.wait()
            for stream in filter(None, (process.stdin, process.stdout)):
                stream.close()

    def _start(self, command: list[str], *, piped: bool = False) -> subprocess.Popen:
        with (self.folder / "worker.log").open("ab") as log:
            streams = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "text": True} if piped else {}
            process = subprocess.Popen(
                command,
                cwd=ROOT,
                env=self.environment,
                start_new_session=True,
                preexec_fn=_end_with_parent,  # noqa: PLW1509 - it makes one system call
                stderr=log,
                **({"stdin": subprocess.DEVNULL, "stdout": log} | streams),
            )
        self._processes.append(process)
        return process
