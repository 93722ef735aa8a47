"""Real PostgreSQL and Redis servers for one test run: free port, own folder, gone afterwards."""

import contextlib
import ctypes
import glob
import os
import pwd
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from pathlib import Path

START_LIMIT_S = 20
STOP_LIMIT_S = 10


class NotInstalled(Exception):
    """A program that a test needs is not on this machine; the message says how to get it."""


def find_program(name: str, *patterns: str, package: str) -> str:
    """The path of a program: the newest match of the patterns, else from PATH."""
    for pattern in patterns:
        if found := sorted(glob.glob(pattern)):
            return found[-1]
    if found := shutil.which(name):
        return found
    raise NotInstalled(f"{name} is not installed (Debian: apt-get install {package})")


def free_port() -> int:
    """A TCP port that nothing listens on at the moment."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


class PrivateServer:
    """A server process with its own folder and port; a drill may kill it and start it again."""

    stop_signal = signal.SIGTERM

    def __init__(self):
        self.port = free_port()
        self.folder = Path(tempfile.mkdtemp(prefix="common-grey-server-"))
        self.process = None

    def start(self) -> None:
        """Start the process and wait until it answers."""
        with (self.folder / "log").open("ab") as log:
            self.process = subprocess.Popen(
                self.command(),
                cwd=self.folder,
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=log,
                **self.account(),
            )
        deadline = time.monotonic() + START_LIMIT_S
        while not self.answers():
            if self.process.poll() is not None or time.monotonic() > deadline:
                log_end = (self.folder / "log").read_text(errors="replace")[-2000:]
                raise RuntimeError(f"{self.command()[0]} did not start:\n{log_end}")
            time.sleep(0.02)

    def kill(self) -> None:
        """End it as a crash would."""
        self.process.kill()
        self.process.wait()

    def close(self) -> None:
        """Stop the process if it runs, and remove its folder."""
        if self.process is not None and self.process.poll() is None:
            self.process.send_signal(self.stop_signal)
            try:
                self.process.wait(STOP_LIMIT_S)
            except subprocess.TimeoutExpired:
                self.kill()
        shutil.rmtree(self.folder, ignore_errors=True)

    def command(self) -> list[str]:
        """The command line."""
        raise NotImplementedError

    def account(self) -> dict:
        """Arguments for Popen: which account the server runs as."""
        return {"preexec_fn": _end_with_parent}

    def answers(self) -> bool:
        """Whether it accepts connections."""
        with socket.socket() as probe:
            probe.settimeout(1)
            return probe.connect_ex(("127.0.0.1", self.port)) == 0


class PrivatePostgres(PrivateServer):
    """PostgreSQL for one run; durability is off, since nothing here outlives the run."""

    stop_signal = signal.SIGINT  # "fast": disconnects the clients and stops

    def __init__(self):
        place = "/usr/lib/postgresql/*/bin/"
        self.server = find_program("postgres", place + "postgres", package="postgresql")
        initdb = find_program("initdb", place + "initdb", package="postgresql")
        super().__init__()
        if owner := _unprivileged_account():
            os.chown(self.folder, owner.pw_uid, owner.pw_gid)
        subprocess.run(
            [initdb, "-D", "data", "-U", "lab", "-A", "trust", "-E", "UTF8", "--locale=C", "--no-sync"],
            cwd=self.folder,
            check=True,
            capture_output=True,
            **self.account(),
        )

    @property
    def url(self) -> str:
        """The address for LABSITE_DATABASE_URL."""
        return f"postgresql://lab@127.0.0.1:{self.port}/postgres"

    def command(self) -> list[str]:
        """The server in the foreground, reachable from this machine only."""
        options = ["fsync=off", "synchronous_commit=off", "full_page_writes=off"]
        options += ["listen_addresses=127.0.0.1", f"unix_socket_directories={self.folder}"]
        switches = [part for option in options for part in ("-c", option)]
        return [self.server, "-D", "data", "-p", str(self.port), *switches]

    def account(self) -> dict:
        """PostgreSQL refuses to run as root; the server alone then runs as another account."""
        owner = _unprivileged_account()
        if owner is None:
            return super().account()
        return super().account() | {"user": owner.pw_uid, "group": owner.pw_gid, "extra_groups": []}

    def answers(self) -> bool:
        """A listening port is not enough: while it starts up it turns connections away."""
        import psycopg

        try:
            psycopg.connect(self.url, connect_timeout=2).close()
        except psycopg.OperationalError:
            return False
        return True


class PrivateRedis(PrivateServer):
    """Redis for one run, with nothing kept on disk."""

    def __init__(self):
        self.server = find_program("redis-server", package="redis-server")
        super().__init__()

    @property
    def url(self) -> str:
        """The address for LABSITE_REDIS_URL."""
        return f"redis://127.0.0.1:{self.port}/0"

    def command(self) -> list[str]:
        """The server in the foreground, reachable from this machine only."""
        options = ["--bind", "127.0.0.1", "--save", "", "--appendonly", "no", "--dir", str(self.folder)]
        return [self.server, "--port", str(self.port), *options]


def _unprivileged_account():
    """The account to run as when we are root: PostgreSQL's own, else nobody; None when we are not."""
    if os.getuid() != 0:
        return None
    try:
        return pwd.getpwnam("postgres")
    except KeyError:
        return pwd.getpwnam("nobody")


def _end_with_parent() -> None:
    """Ask Linux to stop the server when the test process dies without tearing it down."""
    with contextlib.suppress(OSError, AttributeError):  # elsewhere only the ordinary teardown stops it
        ctypes.CDLL(None).prctl(1, signal.SIGINT)  # PR_SET_PDEATHSIG
