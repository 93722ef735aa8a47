"""The averaged steps behind a curve as a table, each with what was remarked about it."""

from dataclasses import dataclass

from curves.queries.roll_page import ReadingSpread
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


def things_to_look_at(result: Analysis, spreads: dict[int, ReadingSpread]) -> list[str]:
    """Return a sentence or two for each thing: first what is general, then step by step."""
    steps = [row for row in step_rows(result) if row.is_left_out or row.remarks]
    return [flag.text for flag in general_flags(result)] + [_about_step(row, spreads) for row in steps]


def _about_step(row: StepRow, spreads: dict[int, ReadingSpread]) -> str:
    place = f"Step {row.step}" if row.step else f"Log exposure {row.log_exposure:.2f}".replace("-", "−")
    spread = spreads.get(row.step)
    sentences = ["Left out of the fit."] if row.is_left_out else []
    sentences += row.remarks
    if spread:
        sentences.append(
            f"Its readings on strip {spread.strip} lie {spread.high - spread.low:.2f} D apart "
            f"({spread.low:.2f} to {spread.high:.2f} D)."
        )
    return f"{place}: {' '.join(sentences)}"


def _is_about(flag: Flag, points, i: int) -> bool:
    if flag.step is not None:
        return flag.step == points.step[i]
    return flag.log_exposure is not None and abs(flag.log_exposure - points.log_exposure[i]) < SAME_EXPOSURE
