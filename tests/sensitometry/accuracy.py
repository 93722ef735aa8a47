"""The accuracy study: known stocks, read with noise, analysed, and compared with the truth.

Conditions unless told otherwise: 21 steps of 0.15, one unexposed reading, reading noise 0.015 D, rounded to
0.01 D, the noise level not told. Three measures are judged: the speed point, the average gradient over 1.30
and the contrast index.
"""

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PchipInterpolator

from curves.sensitometry import Readings, analyse_many
from tests.sensitometry.truths import STEPS, draw_truth, readings_of

STOP = np.log10(2.0)
JUDGED = ("speed", "gradient", "index")
NAMES = {"speed": "speed_point_log_exposure", "gradient": "gradient_130", "index": "contrast_index"}


@dataclass(frozen=True)
class Study:
    """Errors and coverage by curve: errors in stops (speed) and as a share of the truth (the others).

    An entry is NaN where the measure was withheld or the truth itself has no such number.
    """

    kinds: np.ndarray
    errors: dict
    covered: dict
    widths: dict
    withheld: dict
    analyses: list
    truths: list

    def of(self, *kinds):
        """Mask of the curves of the given kinds, or of the families whose names begin so."""
        return np.array([any(kind.startswith(each) for each in kinds) for kind in self.kinds])

    def rms(self, judged, *kinds):
        return float(np.sqrt(np.nanmean(self.errors[judged][self.of(*kinds)] ** 2)))

    def bias(self, judged, *kinds):
        return float(np.nanmean(self.errors[judged][self.of(*kinds)]))

    def worst(self, judged, *kinds):
        return float(np.nanmax(np.abs(self.errors[judged][self.of(*kinds)])))

    def coverage(self, judged, *kinds):
        return float(np.nanmean(self.covered[judged][self.of(*kinds)]))

    def share_withheld(self, judged, *kinds):
        return float(np.mean(self.withheld[judged][self.of(*kinds)]))


def true_numbers(truth):
    """Speed point, gradient over 1.30 and contrast index of a truth; NaN where it has none in range."""
    place = truth.speed_point
    gradient = truth.average_gradient(1.3) if place + 1.3 <= truth.upper + 1.5 else np.nan
    try:
        index = truth.contrast_index
    except ValueError:
        index = np.nan
    return {"speed": place, "gradient": gradient, "index": index}


def run_study(kinds, count, seed, *, spoil=None, steps=STEPS, **conditions) -> Study:
    """Analyse ``count`` random stocks of each kind.

    ``spoil(density, rng)`` may alter the readings of each strip in place and returns nothing.
    """
    rng = np.random.default_rng(seed)
    truths, readings = [], []
    for kind in kinds:
        for _ in range(count):
            truth = draw_truth(kind, rng)
            exposure, density, base = readings_of(truth, rng, steps=steps, **conditions)
            if spoil is not None:
                spoil(density, rng)
            truths.append(truth)
            readings.append(Readings(np.tile(exposure, len(density)), density.ravel(), base))
    analyses = analyse_many(readings)
    return judge([truth.kind for truth in truths], truths, analyses)


def judge(kinds, truths, analyses) -> Study:
    """Errors and coverage of analyses against their truths."""
    numbers = [true_numbers(truth) for truth in truths]
    errors, covered, widths, withheld = {}, {}, {}, {}
    for judged, name in NAMES.items():
        truth = np.array([each[judged] for each in numbers])
        measures = [analysis.measures[name] for analysis in analyses]
        value, low, high = (
            np.array([getattr(m, field) if getattr(m, field) is not None else np.nan for m in measures])
            for field in ("value", "low", "high")
        )
        is_known = np.isfinite(value) & np.isfinite(truth)
        errors[judged] = (value - truth) / STOP if judged == "speed" else value / truth - 1.0
        # An open side covers everything on that side.
        inside = ~(truth < low) & ~(truth > high)
        covered[judged] = np.where(is_known, inside, np.nan)
        widths[judged] = high - low
        withheld[judged] = ~np.isfinite(value)
    return Study(np.array(kinds), errors, covered, widths, withheld, analyses, truths)


def spline_speed_errors(kinds, count, seed, **conditions):
    """Speed errors in stops of a monotone cubic through the same readings: the plain way to compare with."""
    rng = np.random.default_rng(seed)
    errors = []
    for kind in kinds:
        for _ in range(count):
            truth = draw_truth(kind, rng)
            exposure, density, base = readings_of(truth, rng, **conditions)
            spline = PchipInterpolator(exposure, np.maximum.accumulate(density.mean(axis=0)))
            grid = np.linspace(exposure[0], exposure[-1], 3001)
            below = np.nonzero(spline(grid) < base.mean() + 0.10)[0]
            place = grid[below[-1]] if len(below) else np.nan
            errors.append((place - truth.speed_point) / STOP)
    return np.array(errors)
