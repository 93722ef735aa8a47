"""How much a lab's rolls of one and the same stock differ, and where from: the yardstick for 'real'.

Every curve of a strip, one for each time that it was read, is held against one roll of its stock; the
differences are taken apart into what members, runs, rolls, strips and readings add. What the data cannot tell
apart is counted with the level below it, so that no spread is lost.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from scipy.special import stdtrit

from curves.sensitometry.analysis import Analysis
from curves.sensitometry.comparing.comparison import compare_with_reference
from curves.sensitometry.comparing.pair_spread import LEVELS_OF_ROLLS
from curves.sensitometry.controlling.variance_components import (
    COMPONENT,
    FEWEST_DEGREES,
    READING,
    VarianceComponents,
    count_groups,
    variance_components,
)
from curves.sensitometry.measures import Measure, withheld
from curves.sensitometry.measuring.row_summaries import NORMAL_95

# With fewer degrees of freedom the factor for not knowing the spread passes 1.4, and a verdict would
# rest on little but that factor. House choice.
FEWEST_DEGREES_OF_FREEDOM = FEWEST_DEGREES
#: What is taken apart, and its unit; the contrast is a hundred times its natural logarithm.
COMPONENT_UNITS = {
    "speed_shift_stops": "stop",
    "contrast_ratio": "%",
    "toe_difference": "D",
    "middle_difference": "D",
    "highlight_difference": "D",
    "base_difference": "D",
}
SPREAD_MEASURES = {
    "speed_stops": ("speed_shift_stops",),
    "contrast_ratio": ("contrast_ratio",),
    "shape": ("toe_difference", "middle_difference", "highlight_difference"),
    "base": ("base_difference",),
}
PERCENT = 100.0
STRIP = "strip"
#: The fullest first; what a lab's data cannot tell apart is left to the level below.
MODELS = (LEVELS_OF_ROLLS, LEVELS_OF_ROLLS[1:], LEVELS_OF_ROLLS[2:])


class CurvePath(NamedTuple):
    """Where a curve comes from: its stock, and who developed it in which run, roll and strip."""

    stock: str
    member: str
    run: str
    roll: str
    strip: str


@dataclass(frozen=True, slots=True)
class CurveRow:
    """One curve of a strip as one reading of it gave it.

    Parameters
    ----------
    path : CurvePath
        Where it comes from.
    values : dict of str to (float or None)
        Difference from the roll that its stock is held against [`COMPONENT_UNITS`]; None where withheld.
    errors : dict of str to (float or None)
        Standard error of each by reading alone [the same].
    """

    path: CurvePath
    values: dict[str, float | None]
    errors: dict[str, float | None]

    def to_dict(self) -> dict:
        """The fields as plain JSON values."""
        return {"path": list(self.path), "values": self.values, "errors": self.errors}

    @staticmethod
    def from_dict(document: dict) -> "CurveRow":
        """The row again."""
        return CurveRow(CurvePath(*document["path"]), document["values"], document["errors"])


@dataclass(frozen=True, slots=True)
class LabSpread:
    """Spread of a lab under one pair of standards.

    Parameters
    ----------
    standard_deviations : dict of str to float
        Standard deviation of one roll, all levels together: ``speed_stops`` [stop], ``contrast_ratio`` [1],
        ``shape`` [D], ``base`` [D]; a name is missing where too few rolls tell. Each is widened by Student's
        t over the normal quantile, for being estimated from few groups.
    degrees_of_freedom : dict of str to int
        Groups less what is estimated within them, of the level with the fewest.
    levels : dict of str to dict of str to float
        The same by level (``member``, ``run``, ``roll``), those that can be told apart [the same units].
    components : dict of str to VarianceComponents
        Components of each measure of `COMPONENT_UNITS`, with their intervals; levels outside of the model
        are withheld there.
    models : dict of str to tuple of str
        The levels of each measure that were told apart, outermost first.
    """

    standard_deviations: dict[str, float]
    degrees_of_freedom: dict[str, int]
    levels: dict[str, dict[str, float]] = field(default_factory=dict)
    components: dict[str, VarianceComponents] = field(default_factory=dict)
    models: dict[str, tuple[str, ...]] = field(default_factory=dict)

    def to_dict(self) -> dict:
        """What verdicts need, JSON-safe; components have dictionaries of their own."""
        return {
            "standard_deviations": dict(self.standard_deviations),
            "degrees_of_freedom": dict(self.degrees_of_freedom),
            "levels": {name: dict(sds) for name, sds in self.levels.items()},
        }


def curve_rows(curves: Sequence[tuple[CurvePath, Analysis]], anchor: Analysis) -> list[CurveRow]:
    """The curves of one stock as differences from one roll of it.

    Parameters
    ----------
    curves : sequence of (CurvePath, Analysis)
        Curves, each from one reading of one strip.
    anchor : Analysis
        A roll of the stock, the same for all; what it is off by falls out with the mean of the stock.

    Returns
    -------
    list of CurveRow
        In the order of the curves.
    """
    own = compare_with_reference(anchor, anchor, with_curves=False).measures
    of_anchor = {name: (_error(own[name], name) or 0.0) ** 2 / 2 for name in COMPONENT_UNITS}
    rows = []
    for path, curve in curves:
        found = compare_with_reference(curve, anchor, with_curves=False).measures
        values = {name: _value(found[name], name) for name in COMPONENT_UNITS}
        errors = {name: _own_error(found[name], name, of_anchor[name], curve) for name in COMPONENT_UNITS}
        rows.append(CurveRow(path, values, errors))
    return rows


def estimate_lab_spread(rows: Sequence[CurveRow]) -> LabSpread:
    """Take a lab's spread apart.

    Parameters
    ----------
    rows : sequence of CurveRow
        Of all accepted rolls under one pair of standards.

    Returns
    -------
    LabSpread
        In stops, ratio and density.

    Notes
    -----
    Each stock has a mean of its own. Where rolls were read only once, what they differ by holds the reading;
    the mean squared error of reading by the fits is taken off, and a negative remainder counts as no spread.
    """
    found = {name: _components(rows, name, unit) for name, unit in COMPONENT_UNITS.items()}
    sds, degrees, levels = {}, {}, {}
    for name, measures in SPREAD_MEASURES.items():
        told = [parts for measure in measures if (parts := found[measure][2])]
        degrees[name] = min((found[measure][3] for measure in measures), default=0)
        if not told:
            continue
        # The parts of a shape share their rolls, so their mean is no better known than one of them.
        scale = PERCENT if name == "contrast_ratio" else 1.0
        names = {level: None for parts in told for level in parts}
        levels[name] = {
            level: round(math.sqrt(sum(p.get(level, 0.0) ** 2 for p in told) / len(told)) / scale, 6)
            for level in names
        }
        sds[name] = round(math.sqrt(sum(sd**2 for sd in levels[name].values())), 6)
    return LabSpread(
        standard_deviations=sds,
        degrees_of_freedom=degrees,
        levels=levels,
        components={name: each[0] for name, each in found.items()},
        models={name: each[1] for name, each in found.items()},
    )


def _components(rows: Sequence[CurveRow], name: str, unit: str):
    """Components of one measure, the model's levels, the widened spread by level, and degrees of freedom."""
    known = [row for row in rows if row.values[name] is not None]
    stocks = [row.path.stock for row in known]
    labels = {level: [getattr(row.path, level) for row in known] for level in (*LEVELS_OF_ROLLS, STRIP)}
    for model in MODELS:
        chosen = {level: labels[level] for level in (*model, STRIP)}
        counts = count_groups(chosen, stocks)
        # A level of a single group has nothing to tell, and nothing to add to any difference.
        varying = tuple(level for level in model if counts.groups.get(level, 0) > 1)
        if varying and all(counts.is_told(level) for level in varying):
            # Strips of too few rolls to tell count with the roll and its readings.
            inner = (STRIP,) if counts.is_told(STRIP) else ()
            chosen = {level: labels[level] for level in (*varying, *inner)}
            values = [row.values[name] for row in known]
            found = variance_components(values, chosen, stock=stocks, unit=unit)
            parts, fewest = _widened_parts(found, varying, _mean_square(known, name))
            return _with_untold(found, varying, labels, stocks), varying, parts, fewest
    counts = count_groups({"roll": labels["roll"]}, stocks)
    return _nothing_told(labels, stocks, unit), (), {}, max(counts.degrees.get("roll", 0), 0)


def _widened_parts(found: VarianceComponents, model: tuple[str, ...], reading: float):
    """Standard deviation by level, each spread under the innermost level that it may belong to."""
    parts: dict[str, float] = {}
    fewest = []
    for holder in (*model, READING):
        held = [level for level in model if found.merged.get(level, level) == holder]
        if not held:
            continue
        measure = found.components[holder]
        if measure.value is None:
            return {}, max(found.degrees[holder], 0)
        variance = measure.value**2 - (reading if holder == READING else 0.0)
        degrees = found.degrees[holder]
        parts[held[-1]] = math.sqrt(max(variance, 0.0)) * float(stdtrit(degrees, 0.975)) / NORMAL_95
        fewest.append(degrees)
    return parts, min(fewest)


def _with_untold(found: VarianceComponents, model, labels, stocks) -> VarianceComponents:
    """The components, with a reason for each level that is not in the model."""
    unit = found.components[READING].unit
    every = count_groups(labels, stocks)
    components = {}
    for level in (*LEVELS_OF_ROLLS, STRIP, READING):
        if level in found.components:
            components[level] = found.components[level]
        elif every.groups[level] == 1:
            components[level] = withheld(COMPONENT, "TOO_FEW_GROUPS", unit, "there is only one")
        else:
            holder = model[-1] if level == STRIP else model[0]
            components[level] = withheld(COMPONENT, "TOO_FEW_GROUPS", unit, f"counted with {holder}")
    groups = {level: found.groups.get(level, every.groups.get(level, 0)) for level in labels}
    return VarianceComponents(components, found.merged, groups, found.degrees, found.means)


def _nothing_told(labels, stocks, unit: str) -> VarianceComponents:
    counts = count_groups(labels, stocks)
    note = f"rolls less stocks have to be {FEWEST_DEGREES} at least"
    components = {
        level: withheld(COMPONENT, "TOO_FEW_GROUPS", unit, note)
        for level in (*LEVELS_OF_ROLLS, STRIP, READING)
    }
    return VarianceComponents(components, {}, counts.groups, counts.degrees, {})


def _mean_square(rows: Sequence[CurveRow], name: str) -> float:
    errors = [row.errors[name] for row in rows if row.errors[name] is not None]
    return sum(error**2 for error in errors) / len(errors) if errors else 0.0


def _value(measure: Measure, name: str) -> float | None:
    if measure.value is None or name != "contrast_ratio":
        return measure.value
    return PERCENT * math.log(measure.value)


def _error(measure: Measure, name: str) -> float | None:
    if None in (measure.value, measure.low, measure.high):
        return None
    scale = PERCENT / measure.value if name == "contrast_ratio" else 1.0
    return scale * (measure.high - measure.low) / (2.0 * NORMAL_95)


def _own_error(measure: Measure, name: str, of_anchor: float, curve: Analysis) -> float | None:
    """What a difference is uncertain by without its anchor, and without what the tablet does to all alike."""
    error = _error(measure, name)
    if error is None:
        return None
    alike = 0.0 if name == "base_difference" else curve.tablet_share
    return math.sqrt(max(error**2 - of_anchor, 0.0) * (1.0 - alike))


def told_levels(spread: Mapping) -> dict[str, dict[str, float]]:
    """The spread by level out of a stored document; of an older one, which knew rolls alone, by roll.

    Parameters
    ----------
    spread : mapping
        What `LabSpread.to_dict` gave [stop, 1, D].

    Returns
    -------
    dict of str to dict of str to float, scalars [stop, 1, D]
        As ``LabSpread.levels``.
    """
    older = {name: {"roll": sd} for name, sd in spread.get("standard_deviations", {}).items()}
    return {**older, **spread.get("levels", {})}
