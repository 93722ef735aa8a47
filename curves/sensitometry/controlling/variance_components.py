"""Where the spread of a measure comes from: member, run, roll, strip and reading, by restricted likelihood.

Groups may be of any size. Each component has a profile likelihood interval; one that the data cannot tell
is withheld.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import chdtri, stdtrit

from curves.sensitometry.controlling.nested_likelihood import FLOOR, NestedReadings, least_deviance
from curves.sensitometry.controlling.within_spread import usable_points
from curves.sensitometry.intervals import Z95, measure_with_error
from curves.sensitometry.measures import Measure, SensitometryError, withheld

READING, COMPONENT = "reading", "variance_component"
LEVELS = ("member", "run", "roll", "strip")
FEWEST_DEGREES = 4  # as for the spread from roll to roll; fewer say hardly more than the order of size
DROP = float(chdtri(1, 0.05))
WIDEST = 1e3  # times the estimate; an interval that is wider still is open
FIRST_STEP = 0.7  # of the logarithm of a variance
CLOSE = 0.02  # of the normal quantile 1.96


@dataclass(frozen=True, slots=True)
class VarianceComponents:
    """Standard deviations by level.

    Parameters
    ----------
    components : dict of str to Measure
        Standard deviation [unit] by level, outermost first, ``reading`` last; ``high`` is None where the
        data set no upper end. ``TOO_FEW_GROUPS`` or ``NOT_SEPARABLE`` where it cannot be told.
    merged : dict of str to str
        For a level that is not separable, the level whose component holds it.
    groups : dict of str to int
        Groups of each level.
    degrees : dict of str to int
        Groups less those of the level above, and less the means estimated within it.
    means : dict of str to Measure
        Mean [unit] by stock.
    """

    components: dict[str, Measure]
    merged: dict[str, str]
    groups: dict[str, int]
    degrees: dict[str, int]
    means: dict[str, Measure]

    def to_dict(self) -> dict:
        """The fields as plain JSON values."""
        return {
            "components": {name: each.to_dict() for name, each in self.components.items()},
            "merged": dict(self.merged),
            "groups": dict(self.groups),
            "degrees": dict(self.degrees),
            "means": {name: each.to_dict() for name, each in self.means.items()},
        }

    @staticmethod
    def from_dict(document: dict) -> "VarianceComponents":
        """The components again."""
        return VarianceComponents(
            {name: Measure.from_dict(COMPONENT, each) for name, each in document["components"].items()},
            dict(document["merged"]),
            dict(document["groups"]),
            dict(document["degrees"]),
            {name: Measure.from_dict("stock_mean", each) for name, each in document["means"].items()},
        )


@dataclass(frozen=True, slots=True)
class GroupCounts:
    """What a set of levels can tell, whatever the readings are.

    Parameters
    ----------
    groups, degrees : dict of str to int
        As in `VarianceComponents`.
    merged : dict of str to str
        As in `VarianceComponents`.
    """

    groups: dict[str, int]
    degrees: dict[str, int]
    merged: dict[str, str]

    def is_told(self, level: str) -> bool:
        """Whether there are groups enough to tell a level, or the one that holds it.

        Parameters
        ----------
        level : str
            One of the levels.

        Returns
        -------
        bool
        """
        return self.degrees[self.merged.get(level, level)] >= FEWEST_DEGREES


def count_groups(levels: Mapping[str, Sequence], stock: Sequence) -> GroupCounts:
    """Groups and degrees of freedom of nested levels, and which of them cannot be told apart.

    Parameters
    ----------
    levels : mapping of str to sequence, shape (n,)
        As in `variance_components`; none of the readings missing.
    stock : sequence, shape (n,) [label]
        Stocks, each with a mean of its own.

    Returns
    -------
    GroupCounts
        With ``reading`` among the degrees.
    """
    paths = {name: [str(each) for each in labels] for name, labels in levels.items()}
    names, stock_of = np.unique([str(each) for each in stock], return_inverse=True)
    groups, degrees = _sizes(paths, stock_of, stock_of.size)
    kept, merged = _told_apart(list(paths), groups, degrees, stock_of.size)
    degrees[READING] = stock_of.size - (groups[kept[-1]] if kept else max(names.size, 1))
    return GroupCounts(groups, degrees, merged)


def variance_components(
    values, levels: Mapping[str, Sequence], *, stock: Sequence | None = None, unit: str = "D"
) -> VarianceComponents:
    """Nested variance components of readings.

    Parameters
    ----------
    values : array_like, shape (n,) [unit]
        Readings; missing ones are passed over.
    levels : mapping of str to sequence, shape (n,)
        A label for each reading at each level, outermost first: usually ``member``, ``run``, ``roll``,
        ``strip``. The same label within another outer group is another group.
    stock : sequence or None, shape (n,) [label]
        Stocks, each with a mean of its own.
    unit : str
        Unit of the readings.

    Returns
    -------
    VarianceComponents
        All withheld with ``TOO_FEW_POINTS`` where there are too few readings for any.

    Raises
    ------
    SensitometryError
        When lists differ in length or a level is called ``reading``.
    """
    values = usable_points(values)
    stocks = [""] * values.size if stock is None else [str(each) for each in stock]
    lists = [*levels.values(), stocks]
    if any(len(labels) != values.size for labels in lists):
        raise SensitometryError("LENGTHS_DIFFER", "Give a label for each reading at each level.")
    if READING in levels:
        raise SensitometryError("UNKNOWN_LEVEL", "The readings themselves need no labels.")
    known = np.flatnonzero(np.isfinite(values))
    values = values[known]
    paths = {name: [str(labels[i]) for i in known] for name, labels in levels.items()}
    names, stock_of = np.unique([stocks[i] for i in known], return_inverse=True)
    counts = count_groups(paths, [stocks[i] for i in known])
    groups, degrees, merged = counts.groups, counts.degrees, counts.merged
    kept = [name for name in paths if name not in merged and degrees[name] > 0]
    if values.size < names.size + 2 or np.ptp(values) < 1e-9:
        return _all_withheld(paths, merged, groups, degrees, unit)
    fixed = (stock_of[:, None] == np.arange(names.size)).astype(float)
    readings = NestedReadings.of(values, fixed, [paths[name] for name in kept])
    inside_out = [READING, *kept[::-1]]
    start = np.full(len(inside_out), float(np.var(values)) / len(inside_out))
    variances, best = least_deviance(readings, start)
    found = {
        name: _component(readings, variances, best, index, unit)
        for index, name in enumerate(inside_out)
        if degrees[name] >= FEWEST_DEGREES
    }
    means, covariance = readings.means(variances)
    # The outermost level that varies has the fewest groups; Student's t of those is on the safe side.
    outermost = max(degrees[inside_out[-1]], 1)
    wider = float(stdtrit(outermost, 0.975)) / Z95
    return VarianceComponents(
        {name: found.get(name) or _untold(name, merged, degrees, unit) for name in (*paths, READING)},
        merged,
        groups,
        degrees,
        {
            str(name): measure_with_error("stock_mean", mean, wider * math.sqrt(covariance[i, i]), unit)
            for i, (name, mean) in enumerate(zip(names, means, strict=True))
        },
    )


def _sizes(paths: dict[str, list[str]], stock_of: np.ndarray, count: int):
    """Groups and degrees of freedom of each level."""
    groups, degrees = {}, {}
    path = [()] * count
    above = 1
    unspent = int(stock_of.max(initial=0))  # means beyond the first, each costs a degree somewhere
    for name, labels in paths.items():
        path = [(*outer, label) for outer, label in zip(path, labels, strict=True)]
        groups[name] = len(set(path))
        degrees[name] = groups[name] - above
        # Stocks cost degrees at the outermost level whose groups are each of one stock.
        if (
            unspent
            and len({(where, int(s)) for where, s in zip(path, stock_of, strict=True)}) == groups[name]
        ):
            degrees[name] -= unspent
            unspent = 0
        above = groups[name]
    return groups, degrees


def _told_apart(names: list[str], groups, degrees, count: int) -> tuple[list[str], dict[str, str]]:
    """Levels that go into the model, and for those that repeat nothing the level that holds them."""
    kept, merged = [], {}
    for name in names:
        if kept and groups[name] == groups[kept[-1]]:
            merged[name] = kept[-1]
        elif degrees[name] > 0:
            kept.append(name)
    while kept and groups[kept[-1]] == count:
        merged[kept.pop()] = READING
    return kept, {name: merged.get(into, into) for name, into in merged.items()}


def _untold(name: str, merged: dict[str, str], degrees: dict[str, int], unit: str) -> Measure:
    if name in merged:
        return withheld(COMPONENT, "NOT_SEPARABLE", unit, f"held by {merged[name]}")
    note = f"{max(degrees[name], 0)} degrees of freedom, at least {FEWEST_DEGREES} are needed"
    return withheld(COMPONENT, "TOO_FEW_GROUPS", unit, note)


def _all_withheld(paths, merged, groups, degrees, unit: str) -> VarianceComponents:
    components = {name: withheld(COMPONENT, "TOO_FEW_POINTS", unit) for name in (*paths, READING)}
    return VarianceComponents(components, merged, groups, degrees, {})


def _component(readings: NestedReadings, variances, best: float, index: int, unit: str) -> Measure:
    """One standard deviation with the ends of its profile likelihood interval."""
    nothing = float(np.var(readings.columns[:, -1])) * FLOOR * 10
    estimate = float(variances[index])
    state = {"start": variances}

    def excess(log_variance: float) -> float:
        held, deviance = least_deviance(readings, state["start"], {index: math.exp(log_variance)})
        state["start"] = held
        return math.sqrt(max(deviance - best, 0.0)) - math.sqrt(DROP)

    value = math.sqrt(estimate) if estimate > nothing else 0.0
    begin = math.log(max(estimate, nothing * 100))
    low, high = _end(excess, begin, -1), _end(excess, begin, 1)
    note = "REML, profile likelihood interval"
    return Measure(
        COMPONENT,
        value,
        0.0 if low is None else math.exp(low / 2),
        None if high is None else math.exp(high / 2),
        unit,
        None,
        note if value else f"{note}; none is seen",
    )


def _end(excess, begin: float, side: int) -> float | None:
    """Where the deviance has risen by the 95 % quantile, going up or down; None where it never does."""
    near, far, width = begin, begin, FIRST_STEP
    at_near = at_far = -math.sqrt(DROP)
    while at_far < 0:
        if abs(far - begin) > 2 * math.log(WIDEST):
            return None
        near, at_near, far = far, at_far, far + side * width
        at_far, width = excess(far), 1.6 * width
    # False position; an end that stays is halved in weight (the Illinois rule).
    weight_near, weight_far = at_near, at_far
    for _ in range(20):
        middle = (near * weight_far - far * weight_near) / (weight_far - weight_near)
        at_middle = excess(middle)
        if abs(at_middle) < CLOSE or abs(far - near) < CLOSE:
            break
        if at_middle < 0:
            near, weight_near, weight_far = middle, at_middle, weight_far / 2
        else:
            far, weight_far, weight_near = middle, at_middle, weight_near / 2
    return middle
