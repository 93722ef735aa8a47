"""A thread that does something every so often: the heartbeat of a claim, the sweep."""

import logging
import threading
from collections.abc import Callable

from django.db import connections

logger = logging.getLogger(__name__)


class Ticker:
    """Calls ``action`` every ``interval_s`` seconds until stopped; a failed call is logged, no more."""

    def __init__(self, interval_s: float, action: Callable[[], object], *, name: str, at_once: bool = False):
        self._interval_s = interval_s
        self._action = action
        self._at_once = at_once
        self._stopped = threading.Event()
        self._thread = threading.Thread(target=self._tick, name=name, daemon=True)

    def start(self) -> None:
        """Begin, once; the first call comes after one interval, or now with ``at_once``."""
        if self._thread.ident is None:
            self._thread.start()

    def stop(self, timeout_s: float = 5) -> None:
        """End after the call that is under way, if any."""
        self._stopped.set()
        if self._thread.is_alive() and self._thread is not threading.current_thread():
            self._thread.join(timeout_s)

    def __enter__(self):
        self.start()
        return self

    def __exit__(self, *fault):
        self.stop()

    def _tick(self) -> None:
        if self._at_once:
            self._act()
        while not self._stopped.wait(self._interval_s):
            self._act()

    def _act(self) -> None:
        try:
            self._action()
        except Exception:
            logger.exception("%s failed; it will be tried again.", self._thread.name)
        finally:
            # Connections belong to threads; this one must not hold one while it sleeps (a process may
            # be forked meanwhile, a server restarted).
            connections.close_all()
