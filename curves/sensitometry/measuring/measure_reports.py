"""From rows of numbers to measures: units, intervals, and the reason for each one that is withheld."""

from dataclasses import dataclass

import numpy as np

from curves.sensitometry.measures import Measure
from curves.sensitometry.measuring.measure_rows import MeasureRows
from curves.sensitometry.measuring.reported_measures import (
    in_relative_units,
    lower_bound,
    refused,
    reported,
    shifted,
)
from curves.sensitometry.measuring.row_summaries import OPEN_SHARE, Summary, summarise
from curves.sensitometry.measuring.speed_reports import box_difference, delta_x_speed, iso_speeds
from curves.sensitometry.registry import MEASURES

SUBJECT_RANGE = 2.20
# A contrast index or a speed less certain than this would mislead (house choice): half-width of the
# 95 % interval, as a share of the index and in log10 lx s.
INDEX_LIMIT = 0.22
SPEED_LIMIT = 0.60
# Share of gamma above which the last gradient counts as still rising.
RISING_SHARE = 0.1


@dataclass(frozen=True, slots=True)
class Circumstances:
    """What decides, beside the numbers, whether a measure may be stated.

    Parameters
    ----------
    low, high : float, scalar [log10 lx s]
        Measured range.
    has_base : bool
        Whether an unexposed area was read.
    is_absolute : bool
        Whether exposures are in lux seconds.
    is_clipped : bool
        Whether the highest steps stood at the instrument's limit.
    box_speed : float or None, scalar [ISO arithmetic]
        Speed on the box.
    """

    low: float
    high: float
    has_base: bool
    is_absolute: bool
    is_clipped: bool
    box_speed: float | None


@dataclass(frozen=True, slots=True)
class _Rule:
    """How one measure is reported: where its rows are, which side is open, how far it reaches."""

    rows: str
    beyond: str = "high"
    reach: float | str | None = None
    reason: str = "NOT_REACHED"
    from_speed_point: bool = True
    is_bound: bool = False
    note: str = ""


_RULES = {
    "delta_d_130": _Rule("delta_d_130", reach=1.30, reason="N_OUT_OF_RANGE", note="from the speed point"),
    "gradient_130": _Rule("gradient_130", reach=1.30, reason="N_OUT_OF_RANGE", note="chord over 1.30"),
    "average_gradient_150": _Rule("average_gradient_150", reach=1.5, note="chord over 1.50"),
    "arc_gradient_150": _Rule("arc_gradient_150", reach=1.4, note="chord of length 1.5"),
    "contrast_index": _Rule("contrast_index", reach="outer_mark", note="exact two-mark construction"),
    "toe_chord_gradient": _Rule("toe_chord_gradient", reach=0.4, note="chord over 0.40"),
    "highlight_gradient": _Rule("highlight_gradient", reach=2.4, note="chord from 1.8 to 2.4"),
    "speed_point_gradient": _Rule("speed_point_gradient", note="slope of the fitted curve"),
    "fractional_gradient_log_exposure": _Rule(
        "fractional_gradient_log_exposure", "low", reach=1.5, reason="BELOW_RANGE", note="0.3 of G(1.5)"
    ),
    "toe_length": _Rule("toe_length", reason="NO_STRAIGHT_PART", note="to 0.90 gamma"),
    "toe_shape": _Rule("toe_shape", reason="NO_STRAIGHT_PART", note="slope at the speed point over gamma"),
    "useful_range": _Rule("useful_range", is_bound=True, note="to 0.3 of the average gradient"),
    "gamma": _Rule("gamma", reason="NO_STRAIGHT_PART", from_speed_point=False, note="longest straight run"),
    "maximum_gradient": _Rule("maximum_gradient", from_speed_point=False, note="mean over 0.30"),
    "straight_part_start": _Rule(
        "straight_part_start", "low", reason="BELOW_RANGE", from_speed_point=False, note="0.90 gamma"
    ),
    "straight_part_end": _Rule("straight_part_end", from_speed_point=False, note="0.90 gamma"),
    "straight_extent": _Rule("straight_extent", from_speed_point=False, note="0.90 gamma to 0.90 gamma"),
    "shoulder_onset": _Rule("shoulder_onset", from_speed_point=False, note="below 0.90 gamma"),
}


class BatchReport:
    """Measures of every curve of a batch.

    Parameters
    ----------
    rows : MeasureRows
        Numbers, shape (b, 1 + d).
    """

    def __init__(self, rows: MeasureRows):
        self._rows = rows
        self._summaries = {
            name: summarise(rows.values[rule.rows], beyond=rule.beyond) for name, rule in _RULES.items()
        }
        self._summaries["speed_point_log_exposure"] = summarise(
            rows.values["speed_point_log_exposure"], beyond="low"
        )
        self._summaries["delta_x_log_speed"] = summarise(rows.values["delta_x_log_speed"])
        self._summaries["d_max"] = summarise(rows.values["d_max"])

    def best(self, name: str, curve: int) -> float | None:
        """Best estimate of a row by name for one curve, None where it is not there."""
        value = float(self._rows.values[name][curve, 0])
        return value if np.isfinite(value) else None

    def run(self, curve: int) -> tuple[int, int] | None:
        """First and last step of the straight part of one curve, None where it has none."""
        return self._rows.runs[curve]

    def crossings(self, curve: int) -> int:
        """How often one curve crosses the speed criterion upwards."""
        return int(self._rows.crossings[curve])

    def measures(self, curve: int, around: Circumstances) -> dict[str, Measure]:
        """Every measure that is read off the curve, for one curve of the batch.

        Parameters
        ----------
        curve : int, scalar [1]
            Which curve of the batch.
        around : Circumstances
            What decides whether a measure may be stated.

        Returns
        -------
        dict of str to Measure
        """
        speed = self._speed_point(curve, around)
        found = {"speed_point_log_exposure": speed}
        for name, rule in _RULES.items():
            found[name] = self._ruled(name, rule, curve, around, speed)
        found["d_max"] = self._d_max(curve, around)
        found["latitude"] = shifted("latitude", found["useful_range"], -SUBJECT_RANGE)
        found |= iso_speeds(speed, found["delta_d_130"], around.is_absolute)
        log_speed = _one(self._summaries["delta_x_log_speed"], curve)
        found["delta_x_speed"] = delta_x_speed(log_speed, found["delta_d_130"], around.is_absolute)
        found["box_difference_stops"] = box_difference(found["exposure_index"], around.box_speed)
        if around.is_absolute:
            return found
        return {name: in_relative_units(measure) for name, measure in found.items()}

    def _speed_point(self, curve, around):
        name = "speed_point_log_exposure"
        if not around.has_base:
            return refused(name, "NO_BASE_FOG")
        part = _one(self._summaries[name], curve)
        reason = self._speed_reason(part, curve, around)
        if reason:
            return refused(name, reason)
        return reported(name, part, note="0.10 above the fitted base plus fog")

    def _speed_reason(self, part, curve, around):
        value, low, high = part
        if not np.isfinite(value):
            return "BELOW_RANGE" if self.best("first_excess", curve) >= 0 else "NOT_REACHED"
        if value < around.low:
            return "BELOW_RANGE"
        if value > around.high:
            return "NOT_REACHED"
        half = np.nanmax([value - low, high - value, 0.0])
        return "ILL_DEFINED" if half > SPEED_LIMIT else None

    def _ruled(self, name, rule, curve, around, speed):
        if rule.from_speed_point and speed.value is None:
            return refused(name, speed.reason)
        if self._rows.runs[curve] is None and MEASURES[name].reasons.count("NO_STRAIGHT_PART"):
            return refused(name, "NO_STRAIGHT_PART")
        part = _one(self._summaries[name], curve)
        if not np.isfinite(part[0]):
            if rule.is_bound:
                return self._at_least(name, rule, curve, around.high - speed.value)
            return refused(name, rule.reason)
        reason = self._range_reason(name, rule, part, curve, around, speed)
        if reason == "OPEN":
            return self._at_least(name, rule, curve, around.high - speed.value)
        return refused(name, reason) if reason else reported(name, part, rule.note)

    def _at_least(self, name, rule, curve, reached):
        """A bound where the data end: some draws may end earlier, those without an end count as later."""
        draws = self._rows.values[rule.rows][curve, 1:]
        ends = np.sort(np.where(np.isfinite(draws), draws, np.inf))
        return lower_bound(name, reached, float(ends[int(OPEN_SHARE * len(ends))]))

    def _range_reason(self, name, rule, part, curve, around, speed):
        """Why a number that could be computed must not be stated: it lies outside the measured range."""
        value = part[0]
        if name in ("straight_part_start", "fractional_gradient_log_exposure") and value < around.low:
            return "BELOW_RANGE"
        if name in ("straight_part_end", "shoulder_onset") and value > around.high:
            return "NOT_REACHED"
        if name == "straight_extent":
            return self._extent_reason(curve, around)
        if rule.is_bound and speed.value + value > around.high:
            return "OPEN"
        if isinstance(rule.reach, float) and speed.value + rule.reach > around.high + 1e-9:
            return "NOT_REACHED" if rule.reason == "BELOW_RANGE" else rule.reason
        if rule.reach == "outer_mark":
            return self._index_reason(part, curve, around)
        return None

    def _extent_reason(self, curve, around):
        start, end = self.best("straight_part_start", curve), self.best("straight_part_end", curve)
        if start < around.low:
            return "BELOW_RANGE"
        return "NOT_REACHED" if end > around.high else None

    def _index_reason(self, part, curve, around):
        value, low, high = part
        if self.best("outer_mark", curve) > around.high + 1e-9:
            return "NOT_REACHED"
        if self.best("inner_mark", curve) < around.low - 1e-9:
            return "BELOW_RANGE"
        half = max(value - low, high - value) if np.isfinite(low + high) else np.inf
        return "ILL_DEFINED" if half > INDEX_LIMIT * value else None

    def _d_max(self, curve, around):
        if around.is_clipped:
            return refused("d_max", "SATURATED")
        value, low, high = _one(self._summaries["d_max"], curve)
        steepness = self.best("gamma", curve) or self.best("maximum_gradient", curve) or 0.0
        if self.best("d_max_gradient", curve) > RISING_SHARE * steepness:
            return reported("d_max", (value, low, np.nan), "at least: still rising at the last step")
        return reported("d_max", (value, low, high), "fitted density at the last step")


def _one(summary: Summary, curve):
    return float(summary.value[curve]), float(summary.low[curve]), float(summary.high[curve])
