"""What the readings of a table say about each other: repeats, step order, direction."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from statistics import fmean

from curves.importers.problems import Problem, problem
from curves.importers.tables import ReadingRow

FALL_LIMIT = 0.1
"""How far [D] density must fall from the least to the most exposed third before the table counts as
reversed: ten times a usual reading's noise, so that a strip which shows next to nothing is not refused
(house choice)."""

SAME_EXPOSURE = 1e-6
"""Log exposures nearer than this [log10 lx s] are the same: files round to three or four decimals."""


def check_readings(
    rows: Sequence[ReadingRow], header_row: int, *, is_complete: bool
) -> tuple[list[ReadingRow], list[Problem], list[str]]:
    """Number repeated readings and look for contradictions between rows.

    Parameters
    ----------
    rows : sequence of ReadingRow
        Rows whose cells are in order.
    header_row : int
        Row of the header, for problems of the table as a whole.
    is_complete : bool
        Whether no row was left out; otherwise only what two present rows contradict is told.

    Returns
    -------
    rows : list of ReadingRow
        With replicate numbers where they could be given.
    problems : list of Problem
    notes : list of str
    """
    rows, notes = _number_replicates(rows) if is_complete else (list(rows), [])
    problems = _duplicates(rows, is_complete) + _conflicts(rows)
    if not is_complete:
        return rows, problems, notes
    if not rows:
        advice = "there is no reading below the header; give one row per reading"
        return rows, [problem("NO_ROWS", advice, row=header_row)], notes
    order, direction = _step_order(rows) if not problems else ([], [])
    problems += order or _table_faults(rows, header_row)
    notes += direction
    if not any(row.is_unexposed for row in rows):
        notes.append("no reading of the unexposed area: what counts from base plus fog will be withheld")
    return rows, problems, notes


def _key(row: ReadingRow) -> tuple:
    """What makes two readings repeats of each other."""
    if row.step is not None:
        return ("step", row.step, row.is_unexposed)
    if row.is_unexposed or row.log_exposure is None:
        return ("unexposed",)
    return ("exposure", round(row.log_exposure / SAME_EXPOSURE))


def _number_replicates(rows: Sequence[ReadingRow]) -> tuple[list[ReadingRow], list[str]]:
    """Number unnumbered repeats where they can only be repeats: every step read equally often.

    A single step that stands twice is more likely a slip of the pen, so it is left as it is.
    """
    if any(row.replicate is not None for row in rows):
        return list(rows), []
    counts = Counter(_key(row) for row in rows)
    exposed = {counts[_key(row)] for row in rows if not row.is_unexposed}
    is_repeated = len(exposed) == 1 and exposed != {1}
    seen: Counter = Counter()
    numbered = []
    for row in rows:
        if is_repeated or row.is_unexposed:
            seen[_key(row)] += 1
            row = replace(row, replicate=seen[_key(row)])
        numbered.append(row)
    notes = [f"every step stands {exposed.pop()} times: read as replicates"] if is_repeated else []
    return numbered, notes


def _duplicates(rows: Sequence[ReadingRow], is_complete: bool) -> list[Problem]:
    first: dict[tuple, ReadingRow] = {}
    problems = []
    for row in rows:
        if row.replicate is None and not is_complete:
            continue
        earlier = first.setdefault((_key(row), row.replicate), row)
        if earlier is not row:
            problems.append(_duplicate(row, earlier))
    return problems


def _duplicate(row: ReadingRow, earlier: ReadingRow) -> Problem:
    if row.step is not None:
        column, value = "step", str(row.step)
    elif row.is_unexposed:
        column, value = "unexposed", "1"
    else:
        column, value = "log_exposure", f"{row.log_exposure:g}"
    cure = "number repeated readings 1, 2, 3, … in a column replicate, or take one out"
    again = "" if row.replicate is None else f" with replicate {row.replicate}"
    advice = f"{column} {value}{again} stands in row {earlier.row} already; {cure}"
    return problem("DUPLICATE_READING", advice, row=row.row, column=column, value=value)


def _conflicts(rows: Sequence[ReadingRow]) -> list[Problem]:
    """Steps with two log exposures."""
    first: dict[int, ReadingRow] = {}
    problems = []
    for row in rows:
        if row.step is None or row.log_exposure is None:
            continue
        earlier = first.setdefault(row.step, row)
        if abs(row.log_exposure - earlier.log_exposure) > SAME_EXPOSURE:
            advice = (
                f"step {row.step} has log exposure {earlier.log_exposure:g} in row {earlier.row} and "
                f"{row.log_exposure:g} here; a step has one exposure, so give one strip per file"
            )
            problems.append(
                problem(
                    "CONFLICTING_EXPOSURE",
                    advice,
                    row=row.row,
                    column="log_exposure",
                    value=f"{row.log_exposure:g}",
                )
            )
    return problems


def _step_order(rows: Sequence[ReadingRow]) -> tuple[list[Problem], list[str]]:
    """Log exposure must rise with the step number throughout, or fall throughout."""
    steps: dict[int, ReadingRow] = {}
    for row in rows:
        if row.step is not None and row.log_exposure is not None:
            steps.setdefault(row.step, row)
    pairs = list(pairwise(steps[step] for step in sorted(steps)))
    differences = [b.log_exposure - a.log_exposure for a, b in pairs]
    falls = sum(d < 0 for d in differences) > sum(d > 0 for d in differences)
    sign = -1 if falls else 1
    problems = [
        problem(
            "STEP_ORDER",
            f"log exposure {b.log_exposure:g} of step {b.step} does not {'fall' if falls else 'rise'} from "
            f"{a.log_exposure:g} of step {a.step} as between the other steps; check both rows "
            f"(step {a.step} is row {a.row})",
            row=b.row,
            column="log_exposure",
            value=f"{b.log_exposure:g}",
        )
        for (a, b), difference in zip(pairs, differences, strict=True)
        if sign * difference <= SAME_EXPOSURE
    ]
    return problems, ["log exposure falls as the step number rises"] if falls and not problems else []


def _table_faults(rows: Sequence[ReadingRow], header_row: int) -> list[Problem]:
    """What is wrong with the table as a whole."""
    groups: dict[tuple, list[ReadingRow]] = defaultdict(list)
    for row in rows:
        if not row.is_unexposed:
            groups[_key(row)].append(row)
    if len(groups) < 2:
        count = "only one step is" if groups else "no exposed step is"
        advice = (
            f"{count} in the table; a curve needs at least 2 different steps, and 10 or more to be of use"
        )
        return [problem("TOO_FEW_STEPS", advice, row=header_row)]
    if len(rows) > 2 and all(row.density == int(row.density) for row in rows):
        advice = (
            "every density is a whole number, so the decimal mark seems to be lost; write 0.53 and not 53"
        )
        return [problem("WHOLE_DENSITIES", advice, row=header_row, column="density")]
    return _falling(groups, header_row)


def _falling(groups: dict[tuple, list[ReadingRow]], header_row: int) -> list[Problem]:
    if any(group[0].log_exposure is None for group in groups.values()):
        return []
    ordered = sorted(groups.values(), key=lambda group: group[0].log_exposure)
    third = max(1, len(ordered) // 3)
    least = fmean(row.density for group in ordered[:third] for row in group)
    most = fmean(row.density for group in ordered[-third:] for row in group)
    if least - most <= FALL_LIMIT:
        return []
    advice = (
        f"density falls from about {least:.2f} to {most:.2f} as log exposure rises; the exposures seem to be "
        "in reverse order or to be the tablet's densities: give the log exposure that reached the film"
    )
    return [problem("DENSITY_FALLS", advice, row=header_row, column="log_exposure")]
