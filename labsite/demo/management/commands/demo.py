"""Build the invented lab once, then serve it: what a newcomer runs first."""

import shutil
import time
from pathlib import Path

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from labsite import serving

BUILT = "built"
CLEARED = ("lab.sqlite3", "lab.sqlite3-wal", "lab.sqlite3-shm", "demo_accounts.json", "files")


class Command(BaseCommand):
    """``manage.py demo``: everything set up, the site running, nothing else opened."""

    help = "Set up an invented lab in .data/demo and serve it on this machine."

    def add_arguments(self, parser):
        """Where to listen, and whether to begin anew."""
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--reset", action="store_true", help="Throw the demo lab away and build it anew.")
        parser.add_argument(
            "--without-scans", action="store_true", help="Build without scanned films, in half the time."
        )

    def handle(self, *, port, reset, without_scans, **options):
        """Listen first, so that a taken port is said before anything is changed; then build and serve."""
        listener = serving.listen("127.0.0.1", port)
        folder = DemoFolder(Path(settings.DATA_DIR))
        if reset or not folder.is_built:
            folder.begin_anew()
        serving.prepare_site()
        if not folder.is_built:
            self._build(with_scans=not without_scans)
            folder.mark_built()
        self._greet(serving.address_of(listener))
        serving.serve_until_stopped(listener)

    def _build(self, *, with_scans: bool) -> None:
        from labsite.demo.build import build_demo_lab

        self.stdout.write(
            "Building the demo lab: 26 invented stocks, 56 accepted rolls, every curve fitted"
            + (", four films scanned and measured …" if with_scans else " …")
        )
        self.stdout.flush()
        started = time.monotonic()
        build_demo_lab(today=timezone.localdate(), with_scans=with_scans)
        self.stdout.write(f"Built in {time.monotonic() - started:.0f} s.")

    def _greet(self, address: str) -> None:
        from labsite.demo.people import demo_accounts

        self.stdout.write(f"\nCommon Grey, the demo lab, is at {address} (Ctrl-C stops it).")
        self.stdout.write("Accounts (user name, password, role):")
        for username, password, role in demo_accounts():
            self.stdout.write(f"  {username:8s} {password:32s} {role}")
        self.stdout.flush()


class DemoFolder:
    """The demo's data folder. Only one that a demo itself began is ever cleared."""

    def __init__(self, path: Path):
        self._path = path
        self._mark = path / "demo_lab"

    @property
    def is_built(self) -> bool:
        """Whether a build went through; one that was interrupted is thrown away at the next start."""
        return self._mark.is_file() and self._mark.read_text() == BUILT

    def mark_built(self) -> None:
        """Written last, when everything is there."""
        self._mark.write_text(BUILT)

    def begin_anew(self) -> None:
        """Empty the folder, or refuse when it holds a lab that no demo made."""
        if (self._path / "lab.sqlite3").exists() and not self._mark.exists():
            raise CommandError(
                f"{self._path} holds a lab that is no demo; name another folder in LABSITE_DATA_DIR."
            )
        for name in CLEARED:
            path = self._path / name
            if path.is_dir():
                shutil.rmtree(path)
            else:
                path.unlink(missing_ok=True)
        self._path.mkdir(parents=True, exist_ok=True)
        self._mark.write_text("building")
