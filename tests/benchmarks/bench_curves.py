"""Speed of the curve engine beside the obvious way to do the same, measured in one run.

The obvious way is scipy's ``curve_fit`` of a toe-and-shoulder form with six parameters, refitted to 1,000
parametric resamples of each curve, the speed point solved on each. It gives the interval of the speed point
only; the engine's rows give every measure. It is timed on a few resamples and multiplied up; the row says
so. The floor is the bare arithmetic without which no method can do: one evaluation of the form at every
step for every draw that the intervals rest on, and one small linear solve a curve.
"""

import time
import tracemalloc
import warnings

import numpy as np
from scipy.optimize import OptimizeWarning, brentq, curve_fit

from curves.sensitometry import (
    Readings,
    analyse_many,
    analyse_readings,
    compare_with_reference,
    pool_analyses,
)
from curves.sensitometry.fitting.posterior_draws import ROWS_PER_CURVE
from tests.sensitometry.truths import SMOOTH, draw_truth, readings_of

RESAMPLES = 1000
TIMED_RESAMPLES = 40
TIMED_CURVES = 4
SEED = 20240301
NOISE_SD = 0.015


def rows(curves: int = 1000) -> list[dict]:
    """All rows of the curve engine, each measured now, the ways side by side."""
    readings = _readings(curves)
    analyse_many(readings[:8])  # imports and first calls are not part of a row
    obvious = _obvious_seconds(readings[:TIMED_CURVES])
    analyses = analyse_many(readings[:9])
    pooled = pool_analyses(analyses[:3])
    name = f"{curves} curves, all measures and intervals"
    return [
        _row(name, lambda: analyse_many(readings), obvious * curves, _floor_seconds(curves)),
        _row("one roll, everything", lambda: analyse_readings(readings[0]), obvious, _floor_seconds(1), 20),
        _row("one comparison, stored results", lambda: compare_with_reference(analyses[4], pooled), repeat=9),
        _row("three rolls pooled", lambda: pool_analyses(analyses[:3]), repeat=10),
    ]


def _readings(count):
    rng = np.random.default_rng(SEED)
    made = []
    for number in range(count):
        truth = draw_truth(SMOOTH[number % len(SMOOTH)], rng)
        exposure, density, base = readings_of(truth, rng, sd=NOISE_SD)
        made.append(Readings(exposure - 3.2, density[0], base))
    return made


def _row(name, ours, obvious=None, floor=None, repeat=2):
    seconds = _best_of(ours, repeat)
    tracemalloc.start()
    ours()
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    timed = f"{TIMED_RESAMPLES} of {RESAMPLES} resamples of {TIMED_CURVES} curves timed"
    return {
        "name": name,
        "ours_s": seconds,
        "obvious_s": obvious,
        "floor_s": floor,
        "ratio": None if obvious is None else obvious / seconds,
        "peak_mb": peak / 2**20,
        "note": "" if obvious is None else timed,
    }


def _best_of(work, repeat):
    seconds = []
    for _ in range(repeat):
        start = time.perf_counter()
        work()
        seconds.append(time.perf_counter() - start)
    return min(seconds)


def _form(x, base, slope, foot, toe, top, shoulder):
    """A toe and a shoulder as anybody would write them."""
    line = slope * toe * np.logaddexp(0.0, (x - foot) / toe)
    return base + top - shoulder * np.logaddexp(0.0, (top - line) / shoulder)


def _obvious_seconds(readings):
    """Seconds for one curve by refitting resamples one after the other."""
    rng = np.random.default_rng(SEED)
    with warnings.catch_warnings():
        # The loop does not look at the covariance, so its absence is no news.
        warnings.simplefilter("ignore", OptimizeWarning)
        warnings.simplefilter("ignore", RuntimeWarning)
        start = time.perf_counter()
        for roll in readings:
            _refit_resamples(roll, rng)
        seconds = time.perf_counter() - start
    return seconds / len(readings) * RESAMPLES / TIMED_RESAMPLES


def _refit_resamples(roll, rng):
    exposure = np.append(roll.log_exposure[0] - 5.0, roll.log_exposure)
    density = np.append(roll.unexposed.mean(), roll.density)
    guess = [density[0], 0.65, float(np.median(exposure)) - 0.7, 0.12, 2.0, 0.25]
    best = _refit(exposure, density, guess)
    fitted = _form(exposure, *best)
    places = []
    for _ in range(TIMED_RESAMPLES):
        resample = fitted + NOISE_SD * rng.standard_normal(len(fitted))
        places.append(_speed_point(_refit(exposure, resample, best), exposure))
    return np.percentile(places, (2.5, 97.5))


def _refit(exposure, density, start):
    try:
        return curve_fit(_form, exposure, density, start, maxfev=1_000)[0]
    except RuntimeError:  # no convergence: the loop goes on with what it has
        return start


def _speed_point(parameters, exposure):
    def excess(log_exposure):
        return _form(log_exposure, *parameters) - parameters[0] - 0.10

    try:
        return brentq(excess, exposure[1] - 1.0, exposure[-2])
    except ValueError:
        return np.nan


def _floor_seconds(curves):
    exposure = np.tile(np.linspace(0.0, 3.0, 22), (ROWS_PER_CURVE, 1))
    normal = np.eye(7) + 0.01 * np.ones((curves, 7, 7))

    def work():
        for _ in range(curves):
            _form(exposure, 0.2, 0.65, 0.5, 0.12, 2.0, 0.25)
        np.linalg.solve(normal, np.ones((curves, 7, 1)))

    return _best_of(work, 3)
