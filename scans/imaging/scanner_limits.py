"""What the scanner itself adds and takes away: its noise at each transmittance, and its MTF.

Both limit what can be said of a film, so both have an error of their own, which the intervals carry.
"""

from dataclasses import dataclass, fields
from itertools import pairwise

import numpy as np

from scans.imaging.measures import ImagingError

MTF_LIMIT = 0.3  # below it a division by the MTF would amplify errors more than it mends; common practice


@dataclass(frozen=True, slots=True)
class ScannerLimits:
    """Noise and sharpness of a scanner with its settings.

    Parameters
    ----------
    noise_transmittance : tuple of float, shape (k,) [1]
        Rising transmittances at which the noise was measured (empty: the noise is not known).
    noise_sd : tuple of float, shape (k,) [transmittance]
        Standard deviation of a pixel's noise there, independent from pixel to pixel.
    mtf_frequency : tuple of float, shape (n,) [cycles/mm]
        Rising frequencies from zero (empty: the MTF is not known).
    mtf : tuple of float, shape (n,) [1]
        MTF of the scanner, its pixel's aperture included; 1 at zero frequency.
    noise_error : float, scalar [1]
        Relative standard error of the noise's standard deviation.
    width_error : float, scalar [1]
        Relative standard error of the width of the scanner's blur, that is of the frequency axis.

    Raises
    ------
    ImagingError
        When lists differ in length, do not rise, or hold impossible numbers.
    """

    noise_transmittance: tuple[float, ...] = ()
    noise_sd: tuple[float, ...] = ()
    mtf_frequency: tuple[float, ...] = ()
    mtf: tuple[float, ...] = ()
    noise_error: float = 0.05
    width_error: float = 0.05

    def __post_init__(self):
        _check_table("noise", self.noise_transmittance, self.noise_sd)
        _check_table("MTF", self.mtf_frequency, self.mtf)
        if self.mtf and (self.mtf_frequency[0] != 0 or self.mtf[0] <= MTF_LIMIT or max(self.mtf) > 3):
            raise ImagingError("BAD_MTF", "The scanner's MTF starts at zero frequency with 1.")
        if not (0 <= self.noise_error < 1 and 0 <= self.width_error < 1):
            raise ImagingError("BAD_ERROR", "A relative error lies between 0 and 1.")

    @classmethod
    def gaussian(
        cls,
        blur_um: float,
        noise_sd: float | None = None,
        at_transmittance: float = 0.1,
        *,
        noise_error: float = 0.05,
        width_error: float = 0.05,
    ) -> "ScannerLimits":
        """A scanner with a Gaussian blur and, if given, noise measured at one transmittance.

        Parameters
        ----------
        blur_um : float, scalar [um]
            Standard deviation of the blur, above zero.
        noise_sd : float, optional, scalar [transmittance]
            Standard deviation of a pixel's noise.
        at_transmittance : float, scalar [1]
            Where it was measured.
        noise_error, width_error : float, scalar [1]
            As in the class.

        Returns
        -------
        ScannerLimits
        """
        if not 0 < blur_um < 1000:
            raise ImagingError("BAD_MTF", "The blur of a scanner is a length above zero.")
        # In steps fine enough that straight lines between them are within 1e-5 of the curve.
        frequency = np.linspace(0, 1000 * 0.8 / blur_um, 801)
        mtf = np.exp(-2 * (np.pi * blur_um * frequency / 1000) ** 2)
        known = noise_sd is not None
        return cls(
            noise_transmittance=(at_transmittance,) if known else (),
            noise_sd=(noise_sd,) if known else (),
            mtf_frequency=tuple(frequency.tolist()),
            mtf=tuple(mtf.tolist()),
            noise_error=noise_error,
            width_error=width_error,
        )

    def to_dict(self) -> dict:
        """The fields as plain JSON values."""
        return {field.name: _plain(getattr(self, field.name)) for field in fields(self)}

    @classmethod
    def from_dict(cls, stored: dict) -> "ScannerLimits":
        """The limits that `to_dict` wrote."""
        try:
            values = {name: tuple(v) if isinstance(v, list) else float(v) for name, v in stored.items()}
            return cls(**values)
        except (AttributeError, TypeError, ValueError) as error:
            if isinstance(error, ImagingError):
                raise
            raise ImagingError("BAD_SCANNER", "These are not the limits of a scanner.") from error

    @property
    def has_mtf(self) -> bool:
        """Whether the scanner's MTF is known."""
        return bool(self.mtf)

    def noise_at(self, transmittance: float) -> float | None:
        """Standard deviation of a pixel's noise, scalar [transmittance]; None outside what was measured.

        Noise of a single measurement holds within 0.1 in density of it, since it changes with the light.
        """
        table = self.noise_transmittance
        if not table or not transmittance > 0:
            return None
        if not table[0] / 1.26 <= transmittance <= table[-1] * 1.26:
            return None
        return float(np.interp(transmittance, table, self.noise_sd))

    def mtf_at(self, frequency, width: float = 1.0) -> np.ndarray:
        """The scanner's MTF.

        Parameters
        ----------
        frequency : array_like, any shape [cycles/mm]
        width : float, scalar [1]
            Width of the blur over the stated one.

        Returns
        -------
        mtf : ndarray, same shape [1]
            Zero beyond the table; one everywhere when the MTF is not known.
        """
        frequency = np.abs(np.asarray(frequency, dtype=float)) * width
        if not self.mtf:
            return np.ones(frequency.shape)
        return np.interp(frequency, self.mtf_frequency, self.mtf, right=0.0)


def _plain(value):
    return list(value) if isinstance(value, tuple) else value


def _check_table(what: str, axis: tuple[float, ...], values: tuple[float, ...]) -> None:
    if len(axis) != len(values):
        raise ImagingError("BAD_SHAPE", f"The scanner's {what} needs one value for each place.")
    if not np.all(np.isfinite([*axis, *values])) or min([0, *axis, *values]) < 0:
        raise ImagingError("BAD_SCANNER", f"The scanner's {what} holds impossible numbers.")
    if any(b <= a for a, b in pairwise(axis)):
        raise ImagingError("BAD_SCANNER", f"The places of the scanner's {what} must rise.")
