"""Correction of an instrument to a reference, from patches that both have read.

A straight line through readings that err on both axes: York's where both reading uncertainties are known,
Deming's with equal variances where they are not. It holds between the lowest and the highest patch, and
nowhere else.
"""

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtr

from curves.sensitometry.controlling.within_spread import usable_points
from curves.sensitometry.intervals import is_usable, measure_with_error
from curves.sensitometry.measures import Measure, SensitometryError, withheld
from curves.sensitometry.regression import StraightLine, deming_line, york_line

FEWEST_LEVELS = 5  # different densities; house rule
LEAST_RANGE = 1.0  # D between the lowest and the highest patch; house rule
BENT_BELOW = 0.01  # p of a curve in the residuals, below which no straight line is offered
EDGE = 0.005  # D; half the last digit of a reading, still within the tested range


@dataclass(frozen=True, slots=True)
class Correction:
    """``reference = offset + slope * reading``.

    Parameters
    ----------
    offset : Measure
        [D], what to add at a reading of zero; or why there is no correction.
    slope : Measure
        [1].
    covariance : tuple of tuple of float or None, shape (2, 2) [D squared, D, 1]
        Of offset and slope.
    tested : tuple of float or None, shape (2,) [D]
        Lowest and highest reading of the instrument.
    pairs : int, scalar [count]
        Patches used.
    chi_square : float or None, scalar [1]
        Of York's line, against two degrees fewer than pairs.
    bend_p_value : float or None, scalar [probability]
        Chance of such a curve in the residuals where the truth is straight.
    method : str
        ``york`` or ``deming``.
    """

    offset: Measure
    slope: Measure
    covariance: tuple[tuple[float, float], tuple[float, float]] | None
    tested: tuple[float, float] | None
    pairs: int
    chi_square: float | None
    bend_p_value: float | None
    method: str

    @property
    def is_known(self) -> bool:
        """Whether there is a correction to apply."""
        return self.covariance is not None

    def to_dict(self) -> dict:
        """The fields as plain JSON values."""
        return {
            "offset": self.offset.to_dict(),
            "slope": self.slope.to_dict(),
            "covariance": [list(row) for row in self.covariance] if self.covariance else None,
            "tested": list(self.tested) if self.tested else None,
            "pairs": self.pairs,
            "chi_square": self.chi_square,
            "bend_p_value": self.bend_p_value,
            "method": self.method,
        }

    @classmethod
    def from_dict(cls, data: dict) -> "Correction":
        """The correction that `to_dict` wrote."""
        covariance, tested = data["covariance"], data["tested"]
        return cls(
            Measure.from_dict("correction_offset", data["offset"]),
            Measure.from_dict("correction_slope", data["slope"]),
            tuple(tuple(row) for row in covariance) if covariance else None,
            tuple(tested) if tested else None,
            data["pairs"],
            data["chi_square"],
            data["bend_p_value"],
            data["method"],
        )


def instrument_correction(
    readings, reference_readings, *, reading_sd: float | None = None, reference_sd: float | None = None
) -> Correction:
    """The correction of an instrument from paired readings.

    Parameters
    ----------
    readings : array_like, shape (n,) [D]
        Patches as the instrument reads them.
    reference_readings : array_like, shape (n,) [D]
        The same patches by the reference, or their certified densities.
    reading_sd, reference_sd : float or None, scalars [D]
        Standard uncertainties of single readings; with both, York's line is taken.

    Returns
    -------
    Correction
        Withheld with ``TOO_FEW_PAIRS`` (fewer than five different densities, or less than 1 D between
        them), ``NO_ASSOCIATION`` or ``NOT_STRAIGHT``. Where readings scatter more about York's line than
        their uncertainties say, the covariance is widened to the scatter.

    Raises
    ------
    SensitometryError
        When the lists differ in length or an uncertainty is not above zero.
    """
    x, y = usable_points(readings), usable_points(reference_readings)
    if x.shape != y.shape:
        raise SensitometryError("BAD_SHAPE", "Give one reference reading for each reading.")
    for sd in (reading_sd, reference_sd):
        if sd is not None and not (is_usable(sd) and 1e-6 < sd < 1):
            raise SensitometryError("BAD_SD", "The uncertainty of a reading lies above 0 and below 1 D.")
    known = np.isfinite(x) & np.isfinite(y)
    x, y = x[known], y[known]
    method = "deming" if reading_sd is None or reference_sd is None else "york"
    if np.unique(np.round(y, 2)).size < FEWEST_LEVELS or np.ptp(x) < LEAST_RANGE:
        note = f"at least {FEWEST_LEVELS} different densities over {LEAST_RANGE:g} D are needed"
        return _no_correction("TOO_FEW_PAIRS", x.size, method, note)

    def line_from(origin: float) -> StraightLine:
        if method == "york":
            return york_line(x - origin, y, reading_sd, reference_sd)
        return deming_line(x - origin, y)

    lines = [line_from(origin) for origin in (0.0, 1.0)]
    if any(line.slope.value is None for line in lines):
        return _no_correction(lines[0].slope.reason or "NO_ASSOCIATION", x.size, method)
    bend = _bend_p_value(x, y, lines[0])
    if bend is not None and bend < BENT_BELOW:
        return _no_correction("NOT_STRAIGHT", x.size, method, f"p {bend:.4f}", bend)
    return _correction(lines, x, method, bend)


def corrected_density(correction: Correction, density: float, density_sd: float = 0.0) -> Measure:
    """A reading of the instrument on the scale of the reference.

    Parameters
    ----------
    correction : Correction
        Of this instrument.
    density : float, scalar [D]
        As read.
    density_sd : float, scalar [D]
        Standard uncertainty of the reading.

    Returns
    -------
    Measure
        ``corrected_density`` [D]; its ``standard_error`` holds the line's and the reading's uncertainty.
        ``OUTSIDE_TESTED_RANGE`` beyond the tested readings; the reason of the correction where there is
        none.
    """
    name, unit = "corrected_density", "D"
    if not correction.is_known:
        return withheld(name, correction.offset.reason, unit)
    if not is_usable(density, density_sd) or density_sd < 0:
        return withheld(name, "INVALID_INPUT", unit)
    low, high = correction.tested
    if not low - EDGE <= density <= high + EDGE:
        return withheld(name, "OUTSIDE_TESTED_RANGE", unit, f"tested {low:.2f} to {high:.2f} D")
    (of_offset, shared), (_, of_slope) = correction.covariance
    variance = of_offset + 2 * density * shared + density**2 * of_slope
    sd = math.sqrt(max(variance, 0.0) + (correction.slope.value * density_sd) ** 2)
    value = correction.offset.value + correction.slope.value * density
    return measure_with_error(name, value, sd, unit, "corrected to the reference")


def _no_correction(reason: str, pairs: int, method: str, note: str = "", bend=None) -> Correction:
    offset = withheld("correction_offset", reason, "D", note)
    return Correction(
        offset, withheld("correction_slope", reason, "", note), None, None, int(pairs), None, bend, method
    )


def _correction(lines: list[StraightLine], x: np.ndarray, method: str, bend) -> Correction:
    at_zero, at_one = lines
    of_offset, of_slope = (m.standard_error**2 for m in (at_zero.intercept, at_zero.slope))
    # The variance at a reading of one is that at zero, plus the slope's, plus twice what they share.
    shared = (at_one.intercept.standard_error**2 - of_offset - of_slope) / 2
    wider = 1.0
    if at_zero.chi_square is not None:
        wider = max(1.0, at_zero.chi_square / at_zero.degrees)
    covariance = ((wider * of_offset, wider * shared), (wider * shared, wider * of_slope))
    note = "widened to the scatter about the line" if wider > 1 else ""
    return Correction(
        measure_with_error(
            "correction_offset", at_zero.intercept.value, math.sqrt(covariance[0][0]), "D", note
        ),
        measure_with_error("correction_slope", at_zero.slope.value, math.sqrt(covariance[1][1]), "", note),
        covariance,
        (float(x.min()), float(x.max())),
        int(x.size),
        at_zero.chi_square,
        bend,
        method,
    )


def _bend_p_value(x: np.ndarray, y: np.ndarray, line: StraightLine) -> float | None:
    """Two-sided p of a quadratic term in the residuals; None with too few pairs to tell."""
    degrees = x.size - 3
    if degrees < 2:
        return None
    residual = y - line.intercept.value - line.slope.value * x
    away = (x - x.mean()) / np.ptp(x)
    basis, _ = np.linalg.qr(np.column_stack([np.ones_like(x), away, away**2]))
    bend = float(basis[:, 2] @ residual)
    rest = residual - basis @ (basis.T @ residual)
    error = float(rest @ rest) / degrees
    # Readings on a line to rounding have no bend to speak of.
    if error < 1e-12:
        return 1.0 if bend**2 < 1e-10 else 0.0
    return float(2 * stdtr(degrees, -abs(bend) / math.sqrt(error)))
