"""An embedded lab in a folder: SQLite and the site's own ``serve`` command as a real process."""

import contextlib
import os
import signal
import sqlite3
import subprocess
import sys
from pathlib import Path

from tests.private_servers import _end_with_parent, free_port
from tests.services.drill_lab import ROOT, wait_until


class EmbeddedLab:
    """One data folder, and whatever process serves it at the moment."""

    def __init__(self, folder: Path, *, settings: str = "tests.services.drill_settings"):
        self.folder = folder
        self.environment = {
            "PATH": os.environ["PATH"],
            "DJANGO_SETTINGS_MODULE": settings,
            "LABSITE_DATA_DIR": str(folder),
        }
        self.server = None
        self.port = 0
        migrate = ["-m", "django", "migrate", "--run-syncdb", "--verbosity=0"]
        subprocess.run([sys.executable, *migrate], cwd=ROOT, env=self.environment, check=True, timeout=180)

    def start(self, *arguments: str) -> subprocess.Popen:
        """Start a Python process on this lab's data."""
        with (self.folder / "log").open("ab") as log:
            return subprocess.Popen(
                [sys.executable, *arguments],
                cwd=ROOT,
                env=self.environment,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=log,
                text=True,
                preexec_fn=_end_with_parent,  # noqa: PLW1509 - it makes one system call
            )

    def serve(self) -> None:
        """Start the site as ``manage.py serve`` does, at a port of its own."""
        self.port = free_port()
        self.server = self.start("-m", "django", "serve", "--port", str(self.port))

    def kill(self, signal_number=signal.SIGKILL) -> int:
        """End the serving process by a signal; its exit code."""
        self.server.send_signal(signal_number)
        code = self.server.wait(30)
        for stream in (self.server.stdin, self.server.stdout):
            stream.close()
        return code

    def rows(self, query: str, *values) -> list[tuple]:
        """Look into the database, past all of our own code."""
        with contextlib.closing(sqlite3.connect(self.folder / "lab.sqlite3", timeout=10)) as connection:
            return connection.execute(query, values).fetchall()

    def wait_for_state(self, job_id: str, state: str, limit_s: float = 20) -> None:
        """Wait until the job is in the state."""

        def is_there():
            assert self.server.poll() is None, (self.folder / "log").read_text()[-4000:]
            query = "SELECT state FROM jobs_job WHERE id = ?"
            return self.rows(query, job_id.replace("-", "")) == [(state,)]

        wait_until(is_there, limit_s, f"job {job_id} is {state}")
