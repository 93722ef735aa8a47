"""A control strip: a tablet exposed alike each time, processed with a run and read at four places.

Conventions. All densities are gross, as read against air. The speed step is the one about 0.10 above base
plus fog in a process in control, the high step the one some 1.8 log exposure above it; contrast is the
difference of the two. These are common practice.
"""

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass

import numpy as np

from curves.sensitometry.measures import SensitometryError

QUANTITIES: dict[str, str] = {
    "base_fog": "Base plus fog",
    "speed_step": "Speed step",
    "contrast": "Contrast: high less speed step",
    "dmax": "Maximum density",
}
UNIT = "D"
# A densitometer repeats within 0.01 D; taken as two standard uncertainties. Common practice, no source.
READING_SD = 0.005
GREATEST_DENSITY = 10.0  # D; no film and no instrument comes near


@dataclass(frozen=True, slots=True)
class ControlStrip:
    """The readings of one control strip.

    Parameters
    ----------
    base_fog, speed_step, high_step, dmax : float or None, scalars [D]
        Gross densities; None (or no finite number) where a step was not read.
    reading_sd : float, scalar [D]
        Standard uncertainty of each reading.
    strip_batch : str
        Batch of strips exposed together; aims hold for one batch.
    developer_batch : str
        What counts as the same developer; another one restarts the rules' windows.
    run : str
        Strips of the same run were processed together.

    Raises
    ------
    SensitometryError
        For a reading uncertainty not above zero.
    """

    base_fog: float | None
    speed_step: float | None
    high_step: float | None
    dmax: float | None = None
    reading_sd: float = READING_SD
    strip_batch: str = ""
    developer_batch: str = ""
    run: str = ""

    def __post_init__(self):
        if not (math.isfinite(self.reading_sd) and 0 < self.reading_sd < 1):
            raise SensitometryError("BAD_SD", "The uncertainty of a reading lies above 0 and below 1 D.")

    @property
    def contrast(self) -> float | None:
        """High less speed step, scalar [D]."""
        low, high = known_density(self.speed_step), known_density(self.high_step)
        return None if low is None or high is None else high - low

    def value(self, quantity: str) -> float | None:
        """One of `QUANTITIES`, scalar [D]; None where a step for it was not read."""
        if quantity not in QUANTITIES:
            raise SensitometryError("UNKNOWN_QUANTITY", f"Choose one of: {', '.join(QUANTITIES)}.")
        return self.contrast if quantity == "contrast" else known_density(getattr(self, quantity))

    def uncertainty(self, quantity: str) -> float:
        """Standard uncertainty of one of `QUANTITIES` from reading alone, scalar [D]."""
        return self.reading_sd * (math.sqrt(2) if quantity == "contrast" else 1.0)

    @property
    def phase(self) -> tuple[str, str]:
        """What must be the same for two strips to stand in one window, shape (2,)."""
        return self.strip_batch, self.developer_batch

    def to_dict(self) -> dict:
        """The fields as plain JSON values."""
        steps = {
            name: known_density(getattr(self, name))
            for name in ("base_fog", "speed_step", "high_step", "dmax")
        }
        return {**asdict(self), **steps}


def known_density(value: float | None) -> float | None:
    """A density that can be one, or None.

    Parameters
    ----------
    value : float or None, scalar [D]
        As read.

    Returns
    -------
    float or None
        The same, scalar [D]; None for no finite number or one beyond any film.
    """
    if value is None or not abs(value) < GREATEST_DENSITY:
        return None
    return float(value)


def quantity_values(strips: Sequence[ControlStrip], quantity: str) -> np.ndarray:
    """One quantity of many strips.

    Parameters
    ----------
    strips : sequence of ControlStrip
        In the order of time.
    quantity : str
        Key of `QUANTITIES`.

    Returns
    -------
    ndarray, shape (n,) [D]
        NaN where it was not read.
    """
    values = [strip.value(quantity) for strip in strips]
    return np.array([math.nan if value is None else value for value in values], dtype=float)


def phase_labels(strips: Sequence[ControlStrip]) -> list[str]:
    """A label for each strip that changes with its strip batch or developer batch.

    Parameters
    ----------
    strips : sequence of ControlStrip
        In the order of time.

    Returns
    -------
    list of str
        One for each strip.
    """
    return [" / ".join(strip.phase) for strip in strips]
