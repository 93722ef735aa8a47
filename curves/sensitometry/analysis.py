"""The frozen result of analysing a roll (or pooling several), and its plain JSON form."""

from collections.abc import Mapping
from dataclasses import dataclass, fields

import numpy as np

from curves.sensitometry.measures import Flag, Measure

ENGINE_VERSION = "1.1"
CURVE_DIGITS = 5
MODE_DIGITS = 6


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """The characteristic curve over the measured range, with its error.

    Parameters
    ----------
    log_exposure : ndarray, shape (n,) [log10 lx s]
        Even grid over the measured range.
    density, low, high : ndarray, shape (n,) [D]
        Gross density and its 95 % band (pointwise).
    gradient : ndarray, shape (n,) [D per log10 lx s]
        Slope.
    modes : ndarray, shape (r, n) [D]
        The curve's error is ``z @ modes`` with z standard normal.
    base : float or None, scalar [D]
        Base plus fog that the criteria are counted from; None when no unexposed area was read.
    base_modes : ndarray, shape (r,) [D]
        Its error is ``z @ base_modes`` with the same z.
    """

    log_exposure: np.ndarray
    density: np.ndarray
    low: np.ndarray
    high: np.ndarray
    gradient: np.ndarray
    modes: np.ndarray
    base: float | None
    base_modes: np.ndarray

    def to_dict(self) -> dict:
        """Lists of rounded floats, one key a field."""
        return {
            item.name: _plain(getattr(self, item.name), MODE_DIGITS if "modes" in item.name else CURVE_DIGITS)
            for item in fields(self)
        }

    @classmethod
    def from_dict(cls, data: Mapping) -> "Curve":
        """The curve that `to_dict` wrote."""
        arrays = {name: np.asarray(data[name], dtype=float) for name in data if name != "base"}
        if not arrays["modes"].size:
            arrays["modes"] = np.zeros((0, len(arrays["density"])))
        return cls(base=data["base"], **arrays)


@dataclass(frozen=True, slots=True, eq=False)
class Points:
    """The averaged steps that the curve was fitted to.

    Parameters
    ----------
    log_exposure, density : ndarray, shape (n,) [log10 lx s], [D]
        Exposure and mean gross density of each step.
    residual : ndarray, shape (n,) [D]
        Reading minus curve; 0 where there is no curve.
    count, step : ndarray of int, shape (n,) [1]
        Readings averaged; tablet step (0 when not given).
    is_flagged : ndarray of bool, shape (n,)
        Left out of the fit: an outlier, beyond a maximum, or at the instrument's limit.
    """

    log_exposure: np.ndarray
    density: np.ndarray
    residual: np.ndarray
    count: np.ndarray
    step: np.ndarray
    is_flagged: np.ndarray

    def to_dict(self) -> dict:
        """Lists, one key a field."""
        return {item.name: _plain(getattr(self, item.name), CURVE_DIGITS) for item in fields(self)}

    @classmethod
    def from_dict(cls, data: Mapping) -> "Points":
        """The points that `to_dict` wrote."""
        kinds = {"count": int, "step": int, "is_flagged": bool}
        return cls(**{name: np.asarray(data[name], dtype=kinds.get(name, float)) for name in data})


@dataclass(frozen=True, slots=True, eq=False)
class Analysis:
    """Everything that one roll, or several pooled, say.

    Parameters
    ----------
    measures : dict of str to Measure
        Every measure of the registry, withheld ones included.
    curve : Curve
        Characteristic curve; empty when no curve can be drawn.
    points : Points
        Averaged steps, shape (n,).
    flags : tuple of Flag
        What a person should see.
    constructions : dict of str to dict
        Numbers that a figure needs to draw each measure [log10 lx s, D].
    exposure : {"absolute", "relative"}
        Kind of the exposure axis.
    box_speed : float or None, scalar [ISO arithmetic]
        Speed on the box, when given.
    noise_sd : float or None, scalar [D]
        Standard deviation of one reading, as estimated.
    roll_count : int, scalar [1]
        Rolls behind the numbers.
    between_roll : dict of str to float
        Standard deviation from roll to roll by measure name, where it could be estimated.
    tablet_share : float, scalar [1]
        Share of the error variance that is common to all rolls exposed with the same tablet.
    corrected_by : tuple of str
        Corrections of instruments that entered the readings; empty: all are as read.
    correction_share, base_correction_share : float, scalars [1]
        Share of the error variance of the net curve, and of base plus fog, that comes from the corrections
        and is common to all that was read with the same instruments.
    engine_version : str
        Version of the engine that computed it.
    """

    measures: dict[str, Measure]
    curve: Curve
    points: Points
    flags: tuple[Flag, ...]
    constructions: dict[str, dict]
    exposure: str
    box_speed: float | None
    noise_sd: float | None
    roll_count: int
    between_roll: dict[str, float]
    tablet_share: float = 0.0
    corrected_by: tuple[str, ...] = ()
    correction_share: float = 0.0
    base_correction_share: float = 0.0
    engine_version: str = ENGINE_VERSION

    def to_dict(self) -> dict:
        """A JSON-safe dictionary: no NaN, floats rounded to a fixed number of digits."""
        return {
            "engine_version": self.engine_version,
            "exposure": self.exposure,
            "box_speed": self.box_speed,
            "noise_sd": self.noise_sd,
            "roll_count": self.roll_count,
            "between_roll": dict(self.between_roll),
            "tablet_share": self.tablet_share,
            "measures": {name: measure.to_dict() for name, measure in self.measures.items()},
            "curve": self.curve.to_dict(),
            "points": self.points.to_dict(),
            "flags": [flag.to_dict() for flag in self.flags],
            "constructions": {name: dict(parts) for name, parts in self.constructions.items()},
            **self._corrections(),
        }

    def _corrections(self) -> dict:
        """Written only where there are any, so that other results keep their bytes."""
        if not self.corrected_by:
            return {}
        return {
            "corrected_by": list(self.corrected_by),
            "correction_share": self.correction_share,
            "base_correction_share": self.base_correction_share,
        }

    @classmethod
    def from_dict(cls, data: Mapping) -> "Analysis":
        """The analysis that `to_dict` wrote; writing it again gives the same dictionary."""
        return cls(
            measures={name: Measure.from_dict(name, parts) for name, parts in data["measures"].items()},
            curve=Curve.from_dict(data["curve"]),
            points=Points.from_dict(data["points"]),
            flags=tuple(Flag(**flag) for flag in data["flags"]),
            constructions={name: dict(parts) for name, parts in data["constructions"].items()},
            exposure=data["exposure"],
            box_speed=data["box_speed"],
            noise_sd=data["noise_sd"],
            roll_count=data["roll_count"],
            between_roll=dict(data["between_roll"]),
            tablet_share=data["tablet_share"],
            corrected_by=tuple(data.get("corrected_by", ())),
            correction_share=data.get("correction_share", 0.0),
            base_correction_share=data.get("base_correction_share", 0.0),
            engine_version=data["engine_version"],
        )


def empty_curve() -> Curve:
    """A curve without points, for readings that support none.

    Returns
    -------
    Curve
        All arrays of shape (0,) [log10 lx s, D].
    """
    blank = np.empty(0)
    return Curve(blank, blank, blank, blank, blank, np.zeros((0, 0)), None, blank)


def _plain(values, digits):
    if values is None or isinstance(values, float):
        return None if values is None else round(values, digits)
    if values.dtype.kind == "f":
        # Adding 0.0 turns -0.0 into 0.0, so that equal results are equal bytes.
        return (np.round(values, digits) + 0.0).tolist()
    return values.tolist()
