"""How a subject is photographed and printed, the same for every stock, and the print time that follows."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from curves.sensitometry.measures import Measure
from curves.sensitometry.printing.print_exposure import print_time_for_base
from curves.sensitometry.printing.tone_reproduction import flare_exposure
from curves.sensitometry.speed_scale import STOP

#: Tones are followed in twelfths of a stop, so that whole stops are among them.
TONES_A_STOP = 12


@dataclass(frozen=True)
class PrintSettings:
    """How the subject is photographed and printed; the first values are the page's own."""

    callier_factor: float = 1.0
    callier_sd: float = 0.0
    flare: float = 0.01
    range_stops: float = 7.0
    shadow_stops: float = 0.0
    is_by_own_speed: bool = False
    held_stops: float = 2.5
    held_density: float = 0.75
    time_s: float = 10.0
    per_stop: int = 12

    @cached_property
    def log_luminance(self) -> np.ndarray:
        """The subject's tones, the brightest at 0, log₁₀."""
        count = round(self.range_stops * TONES_A_STOP)
        return np.arange(-count, 1) * STOP / TONES_A_STOP

    def highlight_exposure(self, speed_point: float) -> float:
        """Film exposure of the brightest tone when the darkest lies so far above a speed point, log₁₀."""
        darkest = float(flare_exposure(self.log_luminance[0], self.flare))
        return speed_point + self.shadow_stops * STOP - darkest

    @property
    def held_log_luminance(self) -> float:
        """Luminance of the tone that the print is exposed for, log₁₀ of the brightest tone."""
        return -self.held_stops * STOP

    def print_time(self, base: Measure, reference_base: Measure) -> Measure:
        """Print time that makes up for another base plus fog than the reference's, and for nothing else."""
        return print_time_for_base(
            self.time_s,
            base,
            reference_base,
            callier_factor=self.callier_factor,
            callier_sd=self.callier_sd,
        )

    @property
    def reference_time(self) -> Measure:
        """Print time of the reference, which is a setting."""
        return Measure("print_time", self.time_s, unit="s", note="the reference's, as it was set")
