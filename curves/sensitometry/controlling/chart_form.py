"""What every control chart is made of: points, a centre, limits for each point, phases and signals."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from curves.sensitometry.controlling.run_rules import Signal, phase_starts
from curves.sensitometry.intervals import is_usable
from curves.sensitometry.measures import Measure, SensitometryError

LEAST_SPREAD = 1e-9  # below any reading's last digit
FEWEST_FOR_LIMITS = 10  # strips; house rule. Limits from fewer are drawn, and called provisional


@dataclass(frozen=True, slots=True)
class ChartPhase:
    """A stretch of points under the same conditions.

    Parameters
    ----------
    label : str
        What is the same in it, such as the developer batch.
    start, stop : int, scalars [points from 0]
        First point, and one past the last.
    centre : float or None, scalar [unit of the chart]
        Centre line.
    spread : Measure or None
        Standard deviation of one reading, stated or from within-variation, or why there is none; None for
        a chart that needs none.
    is_provisional : bool
        Whether the limits stand on fewer than ten points.
    note : str
        Where centre and spread come from.
    """

    label: str
    start: int
    stop: int
    centre: float | None
    spread: Measure | None
    is_provisional: bool
    note: str

    def to_dict(self) -> dict:
        """The fields as plain JSON values."""
        return {
            "label": self.label,
            "start": self.start,
            "stop": self.stop,
            "centre": self.centre,
            "spread": None if self.spread is None else self.spread.to_dict(),
            "is_provisional": self.is_provisional,
            "note": self.note,
        }


@dataclass(frozen=True)
class Chart:
    """A control chart.

    Parameters
    ----------
    kind : str
        ``individuals``, ``moving_range``, ``means``, ``ranges``, ``ewma``, ``cusum_high`` or ``cusum_low``.
    unit : str
        Unit of the points and lines.
    values : ndarray, shape (n,) [unit]
        The points plotted; NaN where one is missing.
    centre : ndarray, shape (n,) [unit]
        Centre line; NaN where it is not known.
    warning_low, warning_high, action_low, action_high : ndarray, shape (n,) [unit]
        Limits; NaN where there is none.
    phases : tuple of ChartPhase
        In the order of time, all points together.
    signals : tuple of Signal
        Points that break a rule.
    note : str
        How the limits were got.
    """

    kind: str
    unit: str
    values: np.ndarray
    centre: np.ndarray
    warning_low: np.ndarray
    warning_high: np.ndarray
    action_low: np.ndarray
    action_high: np.ndarray
    phases: tuple[ChartPhase, ...]
    signals: tuple[Signal, ...]
    note: str = ""

    def to_dict(self) -> dict:
        """Plain JSON values; None where a point or a limit is missing."""
        lines = ("values", "centre", "warning_low", "warning_high", "action_low", "action_high")
        return {
            "kind": self.kind,
            "unit": self.unit,
            **{line: _plain(getattr(self, line)) for line in lines},
            "phases": [phase.to_dict() for phase in self.phases],
            "signals": [signal.to_dict() for signal in self.signals],
            "note": self.note,
        }

    @property
    def signalled(self) -> np.ndarray:
        """Whether each point breaks a rule, shape (n,) [bool]."""
        marked = np.zeros(self.values.size, dtype=bool)
        marked[[signal.index for signal in self.signals]] = True
        return marked


def _plain(line: np.ndarray) -> list[float | None]:
    return [float(value) if math.isfinite(value) else None for value in line]


def phase_stretches(count: int, phase: Sequence | None) -> list[tuple[str, int, int]]:
    """Label, first point and one past the last of each phase.

    Parameters
    ----------
    count : int, scalar [points]
        Number of points.
    phase : sequence or None, shape (count,) [label]
        A label for each point.

    Returns
    -------
    list of tuple
    """
    if count == 0:
        return []
    starts = np.unique(phase_starts(count, phase))
    stops = [*starts[1:].tolist(), count]
    labels = ["" if phase is None else str(phase[start]) for start in starts]
    return [(label, int(start), int(stop)) for label, start, stop in zip(labels, starts, stops, strict=True)]


def stated_spread(value: float, unit: str) -> Measure:
    """A standard deviation that was given and not estimated.

    Parameters
    ----------
    value : float, scalar [unit]
        Above zero.
    unit : str
        Unit of the readings.

    Returns
    -------
    Measure

    Raises
    ------
    SensitometryError
        When it is not above zero.
    """
    if not (is_usable(value) and value > LEAST_SPREAD):
        raise SensitometryError("IMPOSSIBLE_SPREAD", "The standard deviation must be a number above zero.")
    return Measure("within_spread", float(value), unit=unit, note="as stated")


def checked_centre(value: float | None) -> float | None:
    """A centre line as stated, scalar [unit]; None stays None.

    Parameters
    ----------
    value : float or None, scalar [unit]
        As stated.

    Returns
    -------
    float or None
        The same, scalar [unit].

    Raises
    ------
    SensitometryError
        When it is no finite number.
    """
    if value is not None and not is_usable(value):
        raise SensitometryError("IMPOSSIBLE_CENTRE", "The centre must be a finite number.")
    return None if value is None else float(value)


def over_points(phases: Sequence[ChartPhase], number) -> np.ndarray:
    """A number of each phase, repeated for its points.

    Parameters
    ----------
    phases : sequence of ChartPhase
        In the order of time.
    number : callable
        Takes a phase and gives a float or None.

    Returns
    -------
    ndarray, shape (n,) [unit of the number]
        NaN for None.
    """
    if not phases:
        return np.zeros(0)
    each = [number(phase) for phase in phases]
    lengths = [phase.stop - phase.start for phase in phases]
    return np.repeat([math.nan if value is None else value for value in each], lengths).astype(float)
