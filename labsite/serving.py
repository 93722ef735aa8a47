"""Serving an embedded lab from one process: waitress for pages, a thread for the jobs.

``serve`` and ``demo`` use this: first ``listen`` (a taken port is said before anything is changed),
then ``prepare_site``, then ``serve_until_stopped``.
"""

import errno
import hashlib
import signal
import socket
from collections.abc import Callable
from pathlib import Path

from django.apps import apps
from django.conf import settings
from django.contrib.staticfiles.finders import get_finders
from django.core.management import CommandError, call_command
from waitress.server import create_server

from labsite.accounts.services import first_admin_link

THREADS = 8
#: Larger bodies are cut off by the server; the pages have tighter limits of their own and say so. A scan's
#: file may come in one body, which the server keeps in a temporary file until the last byte is there.
MAX_BODY_BYTES = 520 * 1024 * 1024


def listen(host: str, port: int) -> socket.socket:
    """A socket that listens there; CommandError with a plain sentence where that cannot be."""
    if settings.IS_PRODUCTION:
        raise CommandError("This command serves an embedded lab; in production gunicorn serves the pages.")
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM)
    try:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind((host, port))
        listener.listen(128)
    except (OSError, OverflowError) as fault:
        listener.close()
        raise CommandError(_why_not(fault, host, port)) from None
    return listener


def prepare_site() -> None:
    """Bring the database and the collected static files up to date with the code."""
    call_command("migrate", interactive=False, verbosity=0)
    stamp = Path(settings.STATIC_ROOT) / "collected"
    sources = _static_sources()
    if not stamp.is_file() or stamp.read_text() != sources:
        call_command("collectstatic", interactive=False, clear=True, verbosity=0)
        stamp.write_text(sources)


def first_admin_notice(address: str) -> str | None:
    """What to print where the lab has no admin yet: the link that makes the first one."""
    path = first_admin_link()
    return path and f"There is no admin yet. Become the first one at {address.rstrip('/')}{path}"


def address_of(listener: socket.socket) -> str:
    """The address to type into a browser."""
    host, port = listener.getsockname()[:2]
    host = {"0.0.0.0": "127.0.0.1", "::": "[::1]"}.get(host, f"[{host}]" if ":" in host else host)  # noqa: S104
    return f"http://{host}:{port}/"


def serve_until_stopped(listener: socket.socket, announce: Callable[[str], object] | None = None) -> None:
    """Serve pages and run jobs until SIGTERM or Ctrl-C, then end both in good order.

    ``announce`` is called with the address once requests are taken and signals handled.
    """
    from labsite.jobs.runner import EmbeddedRunner
    from labsite.wsgi import application  # builds the middleware, which reads the collected files

    server = create_server(
        application,
        sockets=[listener],
        threads=THREADS,
        ident=None,
        max_request_body_size=MAX_BODY_BYTES,
        # The proxies' headers are judged by our own middleware, which knows how many are ours.
        clear_untrusted_proxy_headers=not settings.TRUSTED_PROXIES,
    )
    runner = EmbeddedRunner()
    signal.signal(signal.SIGTERM, _stop)
    signal.signal(signal.SIGINT, _stop)
    runner.start()
    try:
        if announce is not None:
            announce(address_of(listener))
        server.run()
    finally:
        runner.stop()
        server.close()


def _stop(signal_number, frame):
    """End waitress's loop; a second signal while things are being put away changes nothing."""
    signal.signal(signal.SIGTERM, signal.SIG_IGN)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    raise SystemExit(0)


def _why_not(fault: Exception, host: str, port: int) -> str:
    number = getattr(fault, "errno", None)
    if number == errno.EADDRINUSE:
        return f"Port {port} on {host} is taken by another program: choose another with --port."
    if number == errno.EACCES:
        return f"Port {port} may not be used by this account: choose one from 1024 up with --port."
    return f"Nothing can listen on {host} port {port} ({getattr(fault, 'strerror', None) or fault})."


def _static_sources() -> str:
    """A digest of every static file's path, size and time: it changes when there is something to collect."""
    digest = hashlib.sha256()
    ignored = apps.get_app_config("staticfiles").ignore_patterns
    for finder in get_finders():
        for path, storage in finder.list(ignored):
            status = Path(storage.path(path)).stat()
            digest.update(f"{path} {status.st_size} {status.st_mtime_ns}\n".encode())
    return digest.hexdigest()
