"""Measures made from estimate and interval ends, with units from the registry and rounded the same way."""

from dataclasses import replace

import numpy as np

from curves.sensitometry.measures import Measure, withheld
from curves.sensitometry.registry import MEASURES
from curves.sensitometry.registry.measure_definition import PLACE, RELATIVE_PLACE

DIGITS = 6


def reported(name: str, ends, note: str = "") -> Measure:
    """A measure from its value, low and high end; an end that is not finite is an open side.

    Parameters
    ----------
    name : str
        Key in the registry.
    ends : sequence of float, shape (3,) [unit of the measure]
        Value, low and high end of the 95 % interval.
    note : str
        How it was got.

    Returns
    -------
    Measure
    """
    value, low, high = (round(float(end), DIGITS) + 0.0 if np.isfinite(end) else None for end in ends)
    if value is not None and (low is None) != (high is None) and "at least" not in note:
        note = f"{note}; {'no upper bound' if high is None else 'no lower bound'}"
    return Measure(name, value, low, high, MEASURES[name].unit, None, note)


def refused(name: str, reason: str, note: str = "") -> Measure:
    """A withheld measure with the registry's unit.

    Parameters
    ----------
    name : str
        Key in the registry.
    reason : str
        Code out of `codes.REASONS`.
    note : str
        What stands against it.

    Returns
    -------
    Measure
    """
    return withheld(name, reason, MEASURES[name].unit, note)


def lower_bound(name: str, value: float, low: float) -> Measure:
    """A measure whose end was not reached within the measured steps: at least this.

    Parameters
    ----------
    name : str
        Key in the registry.
    value, low : float, scalar [unit of the measure]
        How far the data reach; what the number is at least with 97.5 % probability.

    Returns
    -------
    Measure
    """
    return reported(name, (value, min(value, low), np.nan), "at least: no end within the measured steps")


def shifted(name: str, measure: Measure, shift: float) -> Measure:
    """Another measure that differs from a given one by a constant; withheld when that one is.

    Parameters
    ----------
    name : str
        Key in the registry.
    measure : Measure
        The given one.
    shift : float, scalar [unit of both]
        What to add.

    Returns
    -------
    Measure
    """
    if measure.value is None:
        return refused(name, measure.reason)
    ends = (measure.value, measure.low, measure.high)
    return reported(name, [np.nan if end is None else end + shift for end in ends], measure.note)


def in_relative_units(measure: Measure) -> Measure:
    """The same measure, its place on the exposure axis marked as one of relative exposure.

    Parameters
    ----------
    measure : Measure
        Any measure; only places on the exposure axis change their unit.

    Returns
    -------
    Measure
    """
    return replace(measure, unit=RELATIVE_PLACE) if measure.unit == PLACE else measure
