"""The readings of one roll as they come from the densitometer, checked for shape but not for sense."""

from dataclasses import dataclass, field

import numpy as np

from curves.sensitometry.density_corrections import DensityCorrection
from curves.sensitometry.measures import SensitometryError

EXPOSURE_KINDS = ("absolute", "relative")


def _empty():
    return np.empty(0)


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """Step-tablet readings of one roll.

    Parameters
    ----------
    log_exposure : array_like, shape (n,) [log10 lx s]
        Exposure of each reading; any constant may be missing when ``exposure`` is "relative".
    density : array_like, shape (n,) [D]
        Gross density. Readings with a number that is not finite are dropped with a flag.
    unexposed : array_like, shape (k,) [D]
        Gross densities of the unexposed, processed area; may be empty.
    step : array_like of int, shape (n,) [1], optional
        Step of the tablet, for messages only.
    replicate : array_like, shape (n,) [1], optional
        Number of the repeat reading, for messages only.
    strip : array_like, shape (n,) [1], optional
        Which exposed strip a reading belongs to, where there are several.
    exposure : {"absolute", "relative"}
        Whether the exposures are known in lux seconds.
    reading_sd : float, scalar [D], optional
        Known standard deviation of one reading; estimated from the data otherwise.
    tablet_sd : float, scalar [D], optional
        Calibration error of each step of the tablet, the same for all strips made with it.
    corrections : sequence of DensityCorrection
        Of the instruments that read; the densities given here are as read.
    corrected_by, unexposed_corrected_by : array_like of int, shapes (n,) and (k,), optional
        Which of the corrections a reading has; below zero: none. Without them none is corrected.

    Raises
    ------
    SensitometryError
        When arrays differ in length, an option is unknown, or a standard deviation is negative.
    """

    log_exposure: np.ndarray
    density: np.ndarray
    unexposed: np.ndarray = field(default_factory=_empty)
    step: np.ndarray | None = None
    replicate: np.ndarray | None = None
    strip: np.ndarray | None = None
    exposure: str = "absolute"
    reading_sd: float | None = None
    tablet_sd: float | None = None
    corrections: tuple[DensityCorrection, ...] = ()
    corrected_by: np.ndarray | None = None
    unexposed_corrected_by: np.ndarray | None = None

    def __post_init__(self):
        for name in ("log_exposure", "density", "unexposed"):
            object.__setattr__(self, name, _numbers(name, getattr(self, name)))
        count = len(self.log_exposure)
        if len(self.density) != count:
            raise SensitometryError(
                "LENGTHS_DIFFER", f"{count} exposures but {len(self.density)} densities: give one of each."
            )
        for name in ("step", "replicate", "strip"):
            labels = getattr(self, name)
            if labels is None:
                continue
            labels = np.asarray(labels)
            if labels.shape != (count,):
                raise SensitometryError("LENGTHS_DIFFER", f"{name}: give one entry for each reading.")
            object.__setattr__(self, name, labels)
        if self.exposure not in EXPOSURE_KINDS:
            raise SensitometryError("UNKNOWN_EXPOSURE", "exposure must be 'absolute' or 'relative'.")
        for name in ("reading_sd", "tablet_sd"):
            sd = getattr(self, name)
            if sd is not None and not (np.isfinite(sd) and sd >= 0):
                raise SensitometryError("BAD_SD", f"{name} must be a density of zero or more.")
        object.__setattr__(self, "corrections", tuple(self.corrections))
        object.__setattr__(self, "corrected_by", self._places(self.corrected_by, count))
        places = self._places(self.unexposed_corrected_by, len(self.unexposed))
        object.__setattr__(self, "unexposed_corrected_by", places)

    def _places(self, places, count: int) -> np.ndarray:
        if places is None:
            return np.full(count, -1)
        places = np.asarray(places, dtype=int)
        if places.shape != (count,):
            raise SensitometryError("LENGTHS_DIFFER", "Say of each reading which correction it has.")
        if (places >= len(self.corrections)).any():
            raise SensitometryError("UNKNOWN_CORRECTION", "A reading names a correction that was not given.")
        return places


def _numbers(name, values):
    try:
        numbers = np.asarray(values, dtype=float)
    except (TypeError, ValueError) as error:
        raise SensitometryError("NOT_NUMBERS", f"{name}: every entry must be a number.") from error
    if numbers.ndim != 1:
        raise SensitometryError("NOT_A_LIST", f"{name}: give a plain list of numbers.")
    return numbers
