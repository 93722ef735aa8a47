"""A test film against the reference: speed shift, contrast ratio and what is left of the shape.

Works from stored analyses alone. With the net rise n(u) at distance u above each film's speed point,

    speed shift      (log Hm_ref - log Hm_test) / log10 2                      [stop]
    contrast ratio   c = n_test(L) / n_ref(L), L = 1.50 or what both measured
    shape            n_test(u) - c n_ref(u)                                    [D]

Verdicts (one a measure):

``real``
    The interval, with reading error and the spread from roll to roll in it, excludes no difference.
``within the lab's spread``
    Beyond reading error, but not beyond the spread from roll to roll.
``not distinguishable``
    Not even beyond reading error. That is not proof of sameness.
``unknown``
    The measure is withheld, or it is beyond reading error and the spread from roll to roll is not known
    (no ``lab_spread``, and a single roll on either side); ``is_beyond_reading`` tells which. Also wherever
    the two were not exposed and processed under the same standards, as the caller says.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from curves.sensitometry.analysis import MODE_DIGITS, Analysis
from curves.sensitometry.comparing.curve_alignment import align
from curves.sensitometry.comparing.difference_curves import (
    difference_at_equal_exposure,
    difference_at_speed_point,
)
from curves.sensitometry.comparing.pair_spread import PairSpread
from curves.sensitometry.comparing.shape_difference import compare_shapes
from curves.sensitometry.comparing.wording import Sentence, describe_comparison
from curves.sensitometry.measures import Measure, SensitometryError, withheld
from curves.sensitometry.measuring.row_summaries import NORMAL_95
from curves.sensitometry.registry import COMPARISON_MEASURES, MEASURES
from curves.sensitometry.speed_scale import STOP

REAL = "real"
WITHIN_SPREAD = "within the lab's spread"
ALIKE = "not distinguishable"
UNKNOWN = "unknown"
VERDICTS = (REAL, WITHIN_SPREAD, ALIKE, UNKNOWN)
# Which of the lab's spreads applies to which measure, and what "no difference" is.
SPREAD_OF = {
    "speed_shift_stops": "speed_stops",
    "contrast_ratio": "contrast_ratio",
    "shape_difference": "shape",
    "toe_difference": "shape",
    "middle_difference": "shape",
    "highlight_difference": "shape",
    "base_difference": "base",
}
# Where a pooled analysis keeps its own spread from roll to roll, and the factor to the measure's unit.
POOLED_SPREAD = {
    "speed_shift_stops": ("speed_point_log_exposure", 1.0 / STOP),
    "contrast_ratio": ("average_gradient_ratio", 1.0),
    "base_difference": ("base_plus_fog", 1.0),
}
NO_DIFFERENCE = {"contrast_ratio": 1.0}
# However much two results share, so much of the half-width that they carry stays; house choice.
LEAST_READING_SHARE = 0.2


@dataclass(frozen=True, slots=True, eq=False)
class Comparison:
    """Differences of a test film from the reference.

    Parameters
    ----------
    measures : dict of str to Measure
        Each difference with its 95 % interval (reading error, and the spread from roll to roll where
        that is known).
    verdicts : dict of str to str
        One of the four words of the module's docstring for each measure.
    is_beyond_reading : dict of str to (bool or None)
        Whether the difference is beyond reading error alone; None when the measure is withheld.
    difference : dict of str to ndarray
        ``log_exposure``, ``difference``, ``low``, ``high`` at equal exposure [log10 lx s, D], and
        ``aligned_log_exposure`` (distance from the speed point), ``aligned_difference``,
        ``aligned_low``, ``aligned_high`` of net densities; empty arrays where there is no overlap, and
        nothing at all where no curves were wanted.
    sentences : tuple of Sentence
        The differences in plain words.
    """

    measures: dict[str, Measure]
    verdicts: dict[str, str]
    is_beyond_reading: dict[str, bool | None]
    difference: dict[str, np.ndarray]
    sentences: tuple[Sentence, ...] = field(default=())

    def to_dict(self) -> dict:
        """A JSON-safe dictionary."""
        return {
            "measures": {name: measure.to_dict() for name, measure in self.measures.items()},
            "verdicts": dict(self.verdicts),
            "is_beyond_reading": dict(self.is_beyond_reading),
            "difference": {name: values.tolist() for name, values in self.difference.items()},
            "sentences": [{"text": s.text, "measure_names": list(s.measure_names)} for s in self.sentences],
        }


def compare_with_reference(
    test: Analysis,
    reference: Analysis,
    *,
    lab_spread: Mapping[str, float | PairSpread] | None = None,
    with_curves: bool = True,
    is_like_with_like: bool = True,
) -> Comparison:
    """Take the difference between a test film and the reference apart.

    Parameters
    ----------
    test, reference : Analysis
        Stored or fresh analyses, single rolls or pooled.
    lab_spread : mapping, optional
        The lab's standard deviation from roll to roll of one roll: ``speed_stops`` [stop],
        ``contrast_ratio`` [1], ``shape`` [D], ``base`` [D]; any of them may be missing. A `PairSpread` in
        its place says what the rolls at hand give, and what they share.
    with_curves : bool
        Whether the differences are wanted as curves, too; without, fifty stocks take half the time.
    is_like_with_like : bool
        Whether both were exposed and processed under the same standards; if not, no verdict is given.

    Returns
    -------
    Comparison
        Measures in stops, ratio and density.

    Raises
    ------
    SensitometryError
        When a spread is unknown by name or negative.
    """
    spread = _checked_spread(lab_spread, test.roll_count, reference.roll_count)
    found = _reading_only(test, reference)
    measures, verdicts, beyond = {}, {}, {}
    for name in COMPARISON_MEASURES:
        measure = found[name]
        variance, is_known = _roll_spread(name, test, reference, spread)
        # What both share falls out of the interval that the two pooled results carry, too.
        beyond[name] = _excludes(
            _widened(measure, min(variance, 0.0), is_known), NO_DIFFERENCE.get(name, 0.0)
        )
        measures[name] = _widened(measure, variance, is_known)
        verdicts[name] = UNKNOWN
        if is_like_with_like:
            verdicts[name] = _verdict(beyond[name], measures[name], is_known, NO_DIFFERENCE.get(name, 0.0))
    curves = {}
    if with_curves:
        curves = difference_at_equal_exposure(test, reference) | difference_at_speed_point(test, reference)
    return Comparison(
        measures=measures,
        verdicts=verdicts,
        is_beyond_reading=beyond,
        difference=curves,
        sentences=describe_comparison(measures, verdicts, beyond, is_like_with_like=is_like_with_like),
    )


def _checked_spread(lab_spread, test_rolls: int, reference_rolls: int) -> dict[str, PairSpread]:
    """The spread of both sides; one of a single roll is that of rolls that share nothing."""
    spread = {}
    for name, given in (lab_spread or {}).items():
        if name not in set(SPREAD_OF.values()):
            raise SensitometryError("UNKNOWN_SPREAD", f"lab_spread: '{name}' is not a spread.")
        if not isinstance(given, PairSpread):
            if not (np.isfinite(given) and given >= 0):
                raise SensitometryError("BAD_SD", f"lab_spread: '{name}' must be zero or more.")
            given = PairSpread(given**2 / test_rolls, given**2 / reference_rolls)
        spread[name] = given
    return spread


def _reading_only(test, reference):
    """Every difference with the interval that its two analyses carry."""
    found = {"base_difference": _base_difference(test, reference)}
    for analysis in (test, reference):
        place = analysis.measures["speed_point_log_exposure"]
        if place.value is None:
            reason = place.reason
            rest = (name for name in COMPARISON_MEASURES if name not in found)
            return found | {name: withheld(name, reason, MEASURES[name].unit) for name in rest}
    found["speed_shift_stops"] = _speed_shift(test, reference)
    return found | compare_shapes(align(test), align(reference))


def _speed_shift(test, reference):
    name = "speed_shift_stops"
    if test.exposure != reference.exposure:
        return withheld(name, "MIXED_EXPOSURE", "stop")
    ours, theirs = (each.measures["speed_point_log_exposure"] for each in (test, reference))
    return _contrast_of(name, theirs, ours, 1.0 / STOP, "difference of the speed points")


def _base_difference(test, reference):
    ours, theirs = (each.measures["base_plus_fog"] for each in (test, reference))
    for measure in (ours, theirs):
        if measure.value is None:
            return withheld("base_difference", measure.reason, "D")
    return _contrast_of("base_difference", ours, theirs, 1.0, "difference of base plus fog")


def _contrast_of(name, first, second, scale, note):
    """Scaled difference of two independent measures; half-widths add in quadrature side by side."""
    value = (first.value - second.value) * scale
    ends = []
    for near, far in (("low", "high"), ("high", "low")):
        sides = [(first, near), (second, far)]
        halves = [getattr(m, side) - m.value if getattr(m, side) is not None else np.inf for m, side in sides]
        half = float(np.hypot(*halves)) * scale
        ends.append(half if np.isfinite(half) else None)
    low = None if ends[0] is None else round(value - ends[0], MODE_DIGITS)
    high = None if ends[1] is None else round(value + ends[1], MODE_DIGITS)
    return Measure(name, round(value, MODE_DIGITS), low, high, MEASURES[name].unit, None, note)


def _roll_spread(name, test, reference, spread: Mapping[str, PairSpread]):
    """Variance between rolls that the interval does not hold yet, and whether all of it is known."""
    lab = spread.get(SPREAD_OF[name])
    own = POOLED_SPREAD.get(name)
    total = 0.0
    for analysis, known in ((test, lab and lab.test), (reference, lab and lab.reference)):
        held = analysis.between_roll.get(own[0]) if own else None
        if lab is None and held is None:
            return 0.0, False
        held = 0.0 if held is None else (held * own[1]) ** 2 / analysis.roll_count
        total += max((known or 0.0) - held, 0.0)
    return total - (2.0 * lab.shared if lab else 0.0), True


def _excludes(measure, nothing):
    if measure.value is None:
        return None
    is_above = measure.low is not None and measure.low > nothing
    return is_above or (measure.high is not None and measure.high < nothing)


def _widened(measure, variance, is_known):
    if measure.value is None:
        return measure
    ends = []
    for end, sign in ((measure.low, -1.0), (measure.high, 1.0)):
        half = None
        if end is not None:
            square = (end - measure.value) ** 2 + NORMAL_95**2 * variance
            # Whatever the rolls share, reading them is never free of error.
            half = float(np.sqrt(max(square, (LEAST_READING_SHARE * (end - measure.value)) ** 2)))
        ends.append(None if half is None else round(measure.value + sign * half, MODE_DIGITS))
    if measure.name == "shape_difference":
        ends[0] = max(ends[0], 0.0)
    source = "reading error and roll-to-roll spread" if is_known else "reading error only"
    return Measure(measure.name, measure.value, *ends, measure.unit, None, f"{measure.note}; {source}")


def _verdict(beyond, measure, is_known, nothing):
    if beyond is None:
        return UNKNOWN
    if not beyond:
        return ALIKE
    if not is_known:
        return UNKNOWN
    return REAL if _excludes(measure, nothing) else WITHIN_SPREAD
