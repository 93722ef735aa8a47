"""Which function does which kind of job, and for how long it may run.

A handler lives in its app's ``tasks`` module and takes one argument, the run::

    @job_handler("fit_readings", time_limit_s=60)
    def fit_readings(run: JobRun) -> dict:
        readings = load(run.subject["roll_id"])      # read
        run.progress(20, "Fitting the curve")        # raises JobCancelled once the work is not wanted
        curve = fit(readings)                        # compute, outside any transaction
        with run.storing():                          # a short transaction that re-checks the claim
            store(curve)
        return {"result_id": 7}                      # kept in Job.outcome

A job may run twice (a killed process), so storing must find what an earlier run stored and add nothing.
"""

from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import timedelta
from typing import Protocol

from labsite.celery import MAX_TIME_LIMIT_S


class JobRun(Protocol):
    """What a handler gets: its subject, a way to tell how far it is, and a way to store."""

    job_id: object
    subject: dict
    requested_by_id: int | None
    attempt: int

    def progress(self, percent: float, text: str = "") -> None:
        """Say how far the work is; raises once it is not wanted any more or takes too long.

        Call it every second or two. Whatever it raises is meant to leave the handler.
        """

    def storing(self) -> AbstractContextManager:
        """A short transaction for the results, which re-checks the claim under a row lock.

        Raises JobCancelled, with nothing stored, when the claim is lost.
        """


@dataclass(frozen=True)
class JobHandler:
    """A kind of job: the function that does it, its time limit, and how often it is due by itself."""

    kind: str
    function: Callable
    time_limit_s: int
    every: timedelta | None = None
    label: str = ""


class UnknownKind(LookupError):
    """No handler is registered for this kind of job."""


_handlers: dict[str, JobHandler] = {}


def job_handler(
    kind: str, *, time_limit_s: int = 60, every: timedelta | None = None, label: str = ""
) -> Callable:
    """Register the decorated function as the one that does jobs of this kind.

    With ``every`` the sweep submits one under ``label`` whenever the last one is so long ago.
    """
    if not 0 < time_limit_s <= MAX_TIME_LIMIT_S:
        raise ValueError(f"{kind}: the time limit must be from 1 to {MAX_TIME_LIMIT_S} s.")

    def register(function: Callable) -> Callable:
        known = _handlers.get(kind)
        if known and known.function.__module__ != function.__module__:
            raise ValueError(f"{kind} is already done by {known.function.__module__}.")
        _handlers[kind] = JobHandler(kind, function, time_limit_s, every, label)
        return function

    return register


def handler_for(kind: str) -> JobHandler:
    """The handler of a kind of job; UnknownKind when no app registered one."""
    try:
        return _handlers[kind]
    except KeyError:
        raise UnknownKind(f"No handler does jobs of the kind {kind!r}.") from None


def recurring_handlers() -> list[JobHandler]:
    """The handlers of jobs that are due every so often."""
    return [handler for handler in _handlers.values() if handler.every is not None]


def known_kinds() -> list[str]:
    """Every registered kind, sorted."""
    return sorted(_handlers)
