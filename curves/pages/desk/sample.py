"""The sample curves on which the page about the measurements draws how each measure is read.

Closed form with a soft toe and a soft shoulder: with L(u) = ln(1 + e^u),

    D(x) = B + g·[s·L((x − x0)/s) − h·L((x − x1)/h)]

rises from B, is straight with slope g between x0 and x1, and levels off at B + g·(x1 − x0). It is read
without noise but for rounding to 0.01, as a densitometer shows it. Engine and figures are the lab's own.
"""

from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from curves.figures import characteristic_figure, comparison_figure, difference_figure, line_style
from curves.sensitometry import Analysis, Comparison, Readings, analyse_readings, compare_with_reference

#: Twenty-nine steps of 0.15, as of a long tablet; log10 lux seconds.
STEPS = np.round(np.linspace(-3.0, 1.2, 29), 2)
UNEXPOSED_READINGS = 3
READING_SD = 0.01
BOX_SPEED = 100
#: An invented lab's own spread from roll to roll, without which no difference can be called real.
LAB_SPREAD = {"speed_stops": 0.08, "contrast_ratio": 0.02, "shape": 0.01, "base": 0.01}
REFERENCE_NAME = "The sample"
OTHER_NAME = "Another film"
#: Which constructions each figure of the page shows.
SHOWN = {
    "speed": ("base", "speed_point", "contrast_pair"),
    "contrast": ("base", "average_gradient", "contrast_index"),
    "shape": ("speed_point", "straight_part", "toe", "shoulder", "useful_range"),
}


@dataclass(frozen=True)
class SampleFilm:
    """The constants of one curve: densities in D, exposures in log10 lux seconds, slope in D per log10."""

    base: float
    gradient: float
    toe_at: float
    toe_softness: float
    shoulder_at: float
    shoulder_softness: float

    def density(self, log_exposure: np.ndarray) -> np.ndarray:
        """Gross density at each exposure."""
        toe = self.toe_softness * np.logaddexp(0.0, (log_exposure - self.toe_at) / self.toe_softness)
        shoulder = self.shoulder_softness * np.logaddexp(
            0.0, (log_exposure - self.shoulder_at) / self.shoulder_softness
        )
        return self.base + self.gradient * (toe - shoulder)

    def readings(self) -> np.ndarray:
        """Gross density of every step, as a densitometer shows it."""
        return np.round(self.density(STEPS), 2)

    def analysis(self) -> Analysis:
        """What the engine makes of readings of this curve."""
        return analyse_readings(
            Readings(
                log_exposure=STEPS,
                density=self.readings(),
                unexposed=[round(self.base, 2)] * UNEXPOSED_READINGS,
                step=np.arange(len(STEPS), 0, -1),
                exposure="absolute",
                reading_sd=READING_SD,
            ),
            box_speed=BOX_SPEED,
        )


SAMPLE = SampleFilm(0.25, 0.66, -2.18, 0.17, 0.45, 0.22)
OTHER = SampleFilm(0.32, 0.74, -2.38, 0.34, -0.10, 0.28)


@dataclass(frozen=True)
class Sample:
    """The worked example: a film, another one held against it, their figures by name, and their steps."""

    analysis: Analysis
    comparison: Comparison
    figures: dict[str, dict]
    steps: list[tuple[float, float, float]]


@cache
def worked_sample() -> Sample:
    """Return the example; worked out once in the life of a process."""
    analysis, other = SAMPLE.analysis(), OTHER.analysis()
    comparison = compare_with_reference(other, analysis, lab_spread=LAB_SPREAD)
    style = line_style(0, "other")
    figures = {name: _drawn(analysis, names) for name, names in SHOWN.items()}
    figures["difference"] = comparison_figure((REFERENCE_NAME, analysis), [(OTHER_NAME, other, style)])
    figures["shape_difference"] = difference_figure(
        REFERENCE_NAME,
        [(OTHER_NAME, comparison, style)],
        align="speed_point",
        exposure="absolute",
        bands=True,
    )
    readings = (SAMPLE.readings().tolist(), OTHER.readings().tolist())
    return Sample(analysis, comparison, figures, list(zip(STEPS.tolist(), *readings, strict=True)))


def _drawn(analysis: Analysis, names: tuple[str, ...]) -> dict:
    """The sample with some of its constructions; all at once could not be told apart."""
    chosen = {name: parts for name, parts in analysis.constructions.items() if name in names}
    return characteristic_figure(replace(analysis, constructions=chosen), band=False)
