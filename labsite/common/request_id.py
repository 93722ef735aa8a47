"""The id of the request being served, for log lines and the audit record."""

import contextvars
import logging

_request_id = contextvars.ContextVar("request_id", default="")


def current_request_id() -> str:
    """The id of the request being served in this context, or an empty string outside one."""
    return _request_id.get()


def set_request_id(value: str) -> contextvars.Token:
    """Remember the id; give the returned token to ``reset_request_id``."""
    return _request_id.set(value)


def reset_request_id(token: contextvars.Token) -> None:
    """Forget the id again when the request has ended."""
    _request_id.reset(token)


class RequestIdFilter(logging.Filter):
    """Puts ``request_id`` on every log record."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Keep every record."""
        record.request_id = current_request_id() or "-"
        return True
