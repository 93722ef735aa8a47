"""The averaged steps behind a curve as a table, each with what was remarked about it."""

from dataclasses import dataclass

from curves.sensitometry import Analysis, Flag

# Exposures nearer than this are the same step: they are stored with six decimals.
SAME_EXPOSURE = 1e-5


@dataclass(frozen=True)
class StepRow:
    """One step: its exposure, the mean that was read, how far off the curve, and what to look at."""

    step: int | None
    log_exposure: float
    density: float
    residual: float
    count: int
    is_left_out: bool
    remarks: tuple[str, ...]


def step_rows(result: Analysis) -> list[StepRow]:
    """Return the steps by rising exposure."""
    points = result.points
    return [
        StepRow(
            step=int(points.step[i]) or None,
            log_exposure=float(points.log_exposure[i]),
            density=float(points.density[i]),
            residual=float(points.residual[i]),
            count=int(points.count[i]),
            is_left_out=bool(points.is_flagged[i]),
            remarks=tuple(flag.text for flag in result.flags if _is_about(flag, points, i)),
        )
        for i in range(len(points.log_exposure))
    ]


def general_flags(result: Analysis) -> list[Flag]:
    """Return the flags that are about no step in particular."""
    points = result.points
    return [
        flag
        for flag in result.flags
        if not any(_is_about(flag, points, i) for i in range(len(points.log_exposure)))
    ]


def _is_about(flag: Flag, points, i: int) -> bool:
    if flag.step is not None:
        return flag.step == points.step[i]
    return flag.log_exposure is not None and abs(flag.log_exposure - points.log_exposure[i]) < SAME_EXPOSURE
