"""What the run timer counts: the steps of a process with their times, and when to agitate."""

from dataclasses import asdict, dataclass

from curves.models import ProcessRevision, ProcessRun, RunTiming

TITLES = {"develop": "Develop", "stop": "Stop bath", "fix": "Fix", "wash": "Wash"}


@dataclass(frozen=True)
class TimerStep:
    """One bath; without a time the timer counts up until one goes on."""

    key: str
    title: str
    detail: str
    planned_s: int | None
    initial_s: int | None = None
    every_s: int | None = None
    for_s: int | None = None

    def to_dict(self) -> dict:
        """The fields as the page's script reads them."""
        return asdict(self)


@dataclass(frozen=True)
class TimedStep:
    """One step of a run as it was measured."""

    title: str
    planned_s: int | None
    measured_s: int


def timer_steps(revision: ProcessRevision, development_time_s: int | None = None) -> tuple[TimerStep, ...]:
    """Return the steps of a process; the time is the standard's, or else the one given."""
    planned = revision.development_time_s or development_time_s
    return (
        TimerStep(
            "develop",
            TITLES["develop"],
            revision.agitation,
            planned,
            revision.agitation_initial_s,
            revision.agitation_every_s,
            revision.agitation_for_s,
        ),
        TimerStep("stop", TITLES["stop"], revision.stop_bath, revision.stop_s),
        TimerStep("fix", TITLES["fix"], revision.fixer, revision.fix_s),
        TimerStep("wash", TITLES["wash"], revision.wash, revision.wash_s),
    )


def timed_steps(run: ProcessRun) -> tuple[TimedStep, ...]:
    """Return the steps of a run as they were measured; none where no timer ran."""
    timing = run.timings.filter(is_current=True).first()
    return _told(timing) if timing else ()


def timings_of(run: ProcessRun) -> list[tuple[RunTiming, tuple[TimedStep, ...]]]:
    """Return all that was ever recorded, newest first."""
    return [(timing, _told(timing)) for timing in run.timings.select_related("recorded_by")]


def _told(timing: RunTiming) -> tuple[TimedStep, ...]:
    return tuple(
        TimedStep(TITLES[step["step"]], step["planned_s"], step["measured_s"]) for step in timing.steps
    )
