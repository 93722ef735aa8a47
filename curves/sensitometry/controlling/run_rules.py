"""Run rules: which patterns of points on a control chart say that a process has changed.

Conventions. A point beyond a line is strictly beyond it. A signal is dated to the last point of its window,
which must itself be beyond the line. A missing value is passed over and does not end a run. A change of
phase (another developer batch, say) restarts every window.
"""

from collections.abc import Sequence
from dataclasses import asdict, dataclass

import numpy as np

from curves.sensitometry.controlling.rule_definitions import RunRule, rules_of
from curves.sensitometry.measures import SensitometryError

ON_THE_LINE = 1e-9  # readings to 0.01 D often lie on a limit; rounding must not put them beyond it


@dataclass(frozen=True, slots=True)
class Signal:
    """A rule that a point breaks.

    Parameters
    ----------
    index : int, scalar [points from 0]
        The point that it is dated to: the last of its window.
    rule, text : str
        Key of the rule and the rule in a sentence.
    window : tuple of int, shape (m,) [points from 0]
        The points that were looked at, missing ones left out.
    side : int, scalar [sign]
        +1 above the centre or rising, -1 below or falling, 0 neither.
    """

    index: int
    rule: str
    text: str
    window: tuple[int, ...]
    side: int

    def to_dict(self) -> dict:
        """The fields as plain JSON values."""
        return {**asdict(self), "window": list(self.window)}


def rule_signals(scores, phase=None, rules: str | Sequence[str] = "western_electric") -> tuple[Signal, ...]:
    """Every point that breaks a rule.

    Parameters
    ----------
    scores : array_like, shape (n,) [standard deviations]
        Points less their centre, over the standard deviation; NaN where a point is missing.
    phase : array_like or None, shape (n,) [label]
        Points next to each other with the same label belong together; None makes one phase of all.
    rules : str or sequence of str
        Key of `RULE_SETS`, or keys of `RULES`.

    Returns
    -------
    tuple of Signal
        By point, then in the order of the rules.

    Raises
    ------
    SensitometryError
        For an unknown rule or lists of unequal length.

    Examples
    --------
    >>> [(signal.index, signal.rule) for signal in rule_signals([0.2, 2.1, 0.5, 2.3])]
    [(3, 'two_of_three')]
    """
    scores = np.asarray(scores, dtype=float)
    if scores.ndim != 1:
        raise SensitometryError("BAD_SHAPE", "Give the points as one list.")
    chosen = rules_of(rules)
    starts = phase_starts(scores.size, phase)
    present = np.flatnonzero(np.isfinite(scores))
    z = scores[present]
    # Where, among the points present, the phase of each begins.
    first = np.searchsorted(present, starts[present])
    found = []
    for order, rule in enumerate(chosen):
        for side, hits in _hits(rule, z, first):
            for i in np.flatnonzero(hits):
                begin = max(i - rule.window + 1, first[i])
                window = tuple(int(j) for j in present[begin : i + 1])
                found.append((int(present[i]), order, Signal(window[-1], rule.key, rule.text, window, side)))
    return tuple(signal for *_, signal in sorted(found, key=lambda entry: entry[:2]))


def phase_starts(count: int, phase=None) -> np.ndarray:
    """Index of the first point of each point's phase.

    Parameters
    ----------
    count : int, scalar [points]
        Number of points.
    phase : array_like or None, shape (count,) [label]
        A label for each point; None for a single phase.

    Returns
    -------
    ndarray, shape (count,) [points from 0]
    """
    if phase is None or count == 0:
        return np.zeros(count, dtype=int)
    labels = np.asarray(phase)
    if labels.shape != (count,):
        raise SensitometryError("BAD_SHAPE", "Give one phase for each point.")
    changes = np.concatenate([[True], labels[1:] != labels[:-1]])
    return np.maximum.accumulate(np.where(changes, np.arange(count), 0))


def _hits(rule: RunRule, z: np.ndarray, first: np.ndarray):
    """Side and points where a rule is broken, for each side that the rule tells apart."""
    if rule.kind == "same side":
        return [(side, _counted(rule, side * z > rule.line + ON_THE_LINE, first)) for side in (1, -1)]
    if rule.kind == "trend":
        return [(side, _run_of(rule.window - 1, _step(side * z, first), first + 1)) for side in (1, -1)]
    if rule.kind == "alternating":
        rise, fall = _step(z, first), _step(-z, first)
        turn = np.zeros(z.size, dtype=bool)
        turn[1:] = (rise[1:] & fall[:-1]) | (fall[1:] & rise[:-1])
        return [(0, _run_of(rule.window - 2, turn, first + 2))]
    if rule.kind == "inside":
        return [(0, _run_of(rule.window, np.abs(z) < rule.line - ON_THE_LINE, first))]
    beyond = np.abs(z) > rule.line + ON_THE_LINE
    above = _count(z > 0, rule.window, first)
    return [(0, _run_of(rule.window, beyond, first) & (above > 0) & (above < rule.window))]


def _count(marked: np.ndarray, window: int, first: np.ndarray) -> np.ndarray:
    """Marked points among the last ``window`` of each point's phase."""
    total = np.concatenate([[0], np.cumsum(marked)])
    place = np.arange(marked.size)
    return total[place + 1] - total[np.maximum(place - window + 1, np.minimum(first, place + 1))]


def _counted(rule: RunRule, beyond: np.ndarray, first: np.ndarray) -> np.ndarray:
    return beyond & (_count(beyond, rule.window, first) >= rule.needed)


def _run_of(length: int, marked: np.ndarray, first: np.ndarray) -> np.ndarray:
    return _count(marked, length, first) >= length


def _step(z: np.ndarray, first: np.ndarray) -> np.ndarray:
    """Points above the one before within their phase."""
    rise = np.zeros(z.size, dtype=bool)
    rise[1:] = z[1:] > z[:-1]
    return rise & (np.arange(z.size) > first)
