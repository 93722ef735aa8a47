"""Readings put on the scale of a reference, with the error that all readings of an instrument then share.

A correction is a straight line with an error in its offset and its slope. That error is the same for every
reading of the instrument: it moves them together and does not average away over steps or repetitions.
"""

from dataclasses import dataclass

import numpy as np

from curves.sensitometry.measures import Flag, SensitometryError

# Half the last digit of a reading: so far beyond the tested readings still counts as tested.
EDGE = 0.005


@dataclass(frozen=True, slots=True)
class DensityCorrection:
    """``corrected = offset + slope * reading``.

    Parameters
    ----------
    title : str
        What it is called where a result names it.
    offset, slope : float, scalars [D], [1]
        The line.
    covariance : tuple of tuple of float, shape (2, 2) [D squared, D, 1]
        Of offset and slope.
    tested : tuple of float, shape (2,) [D]
        Lowest and highest reading that it was tested on; it holds nowhere else.

    Raises
    ------
    SensitometryError
        When a number is not finite, the slope is not above zero or the range is not in order.
    """

    title: str
    offset: float
    slope: float
    covariance: tuple[tuple[float, float], tuple[float, float]]
    tested: tuple[float, float]

    def __post_init__(self):
        numbers = np.array([self.offset, self.slope, *self.covariance[0], *self.covariance[1], *self.tested])
        if not np.isfinite(numbers).all() or self.slope <= 0 or self.tested[0] >= self.tested[1]:
            text = "A correction has finite numbers, a slope above zero and a range in order."
            raise SensitometryError("BAD_CORRECTION", text)

    def errors(self, readings) -> np.ndarray:
        """The two independent errors of one standard deviation at given readings.

        Parameters
        ----------
        readings : ndarray, shape (n,) [D]
            As read.

        Returns
        -------
        errors : ndarray, shape (2, n) [D]
            The corrected densities err by ``z @ errors``, z standard normal.
        """
        values, vectors = np.linalg.eigh(np.array(self.covariance))
        # Signs of eigenvectors are arbitrary.
        vectors = vectors * np.where(vectors.sum(axis=0) < 0, -1.0, 1.0)
        factors = vectors * np.sqrt(np.maximum(values, 0.0))
        return factors.T @ np.stack([np.ones_like(readings), readings])


@dataclass(frozen=True, slots=True, eq=False)
class CorrectedReadings:
    """Readings after their corrections.

    Parameters
    ----------
    density : ndarray, shape (n,) [D]
        Corrected; as read where no correction applies.
    errors : ndarray, shape (r, n) [D]
        What they err by together, a row a standard deviation.
    is_tested : ndarray of bool, shape (n,)
        False where a correction applies that was not tested so far.
    """

    density: np.ndarray
    errors: np.ndarray
    is_tested: np.ndarray


def correct_readings(readings, corrected_by, corrections) -> CorrectedReadings:
    """Apply to each reading the correction that is named for it.

    Parameters
    ----------
    readings : ndarray, shape (n,) [D]
        As read.
    corrected_by : ndarray of int, shape (n,)
        Which of the corrections; below zero: none.
    corrections : sequence of DensityCorrection, length c
        The corrections.

    Returns
    -------
    CorrectedReadings
        Two rows of errors for each correction.
    """
    density = readings.astype(float, copy=True)
    errors = np.zeros((2 * len(corrections), len(readings)))
    is_tested = np.ones(len(readings), dtype=bool)
    for number, correction in enumerate(corrections):
        mine = corrected_by == number
        raw = readings[mine]
        density[mine] = correction.offset + correction.slope * raw
        errors[2 * number : 2 * number + 2, mine] = correction.errors(raw)
        low, high = correction.tested
        is_tested[mine] = (raw >= low - EDGE) & (raw <= high + EDGE)
    return CorrectedReadings(density, errors, is_tested)


def correction_flags(corrected_by, is_tested, corrections) -> list[Flag]:
    """What a person should see of the corrections, one sentence each.

    Parameters
    ----------
    corrected_by : ndarray of int, shape (n,)
        Which correction each reading has; below zero: none.
    is_tested : ndarray of bool, shape (n,)
        Whether it was tested so far.
    corrections : sequence of DensityCorrection, length c
        The corrections [D].

    Returns
    -------
    list of Flag
    """
    flags = []
    for number, correction in enumerate(corrections):
        count = int(np.sum((corrected_by == number) & is_tested))
        beyond = int(np.sum((corrected_by == number) & ~is_tested))
        sign = "−" if correction.offset < 0 else "+"
        line = f"{sign}{abs(correction.offset):.3f} D, × {correction.slope:.4f}"
        if count:
            text = f"{count} readings are corrected by {correction.title} ({line})."
            flags.append(Flag("CORRECTED", text))
        if beyond:
            low, high = correction.tested
            text = (
                f"{beyond} readings lie beyond what {correction.title} was tested on "
                f"({low:.2f} to {high:.2f} D) and were left out."
            )
            flags.append(Flag("BEYOND_CORRECTION", text))
    return flags
