"""Several strips of one roll: their shifts along the exposure axis, kept apart from reading noise."""

from dataclasses import dataclass

import numpy as np
from scipy.special import chdtri

from curves.sensitometry.speed_scale import STOP

# Ratio of spread to what reading noise alone would give from which it is told (about 1 % by chance).
TOLD_CHANCE = 0.01


@dataclass(frozen=True, slots=True)
class StripSpread:
    """How far the strips lie apart.

    Parameters
    ----------
    count : int, scalar [1]
        Number of strips.
    stops, low_stops, high_stops : float, scalar [stop]
        Standard deviation between strips, reading noise taken off, and its 95 % interval.
    error : float, scalar [log10 lx s]
        Standard error of the strips' mean exposure that follows from it.
    is_told : bool
        Whether the spread is more than reading noise explains.
    """

    count: int
    stops: float
    low_stops: float
    high_stops: float
    error: float
    is_told: bool


def align_strips(density, strip, group, exposure):
    """Take each strip's own shift out of its readings.

    Parameters
    ----------
    density : ndarray, shape (n,) [D]
        Readings, in order of exposure.
    strip : sequence, shape (n,), or None
        Strip of each reading.
    group : ndarray of int, shape (n,) [1]
        Step of each reading.
    exposure : ndarray, shape (m,) [log10 lx s]
        Exposure of each step.

    Returns
    -------
    density : ndarray, shape (n,) [D]
        Readings as if all strips had had their mean exposure.
    spread : StripSpread or None
        None with a single strip, or when the strips do not share steps on the slope.
    """
    names = np.unique(strip) if strip is not None else np.empty(0)
    if len(names) < 2 or len(exposure) < 4:
        return density, None
    count = np.bincount(group, minlength=len(exposure))
    mean = np.bincount(group, weights=density, minlength=len(exposure)) / np.maximum(count, 1)
    slope = np.maximum(np.gradient(mean, exposure), 0.0)[group]
    away = density - mean[group]
    shifts, strengths = [], []
    for name in names:
        is_strip = strip == name
        strength = float(np.sum(slope[is_strip] ** 2))
        shifts.append(float(slope[is_strip] @ away[is_strip]) / strength if strength > 0 else 0.0)
        strengths.append(strength)
    shifts, strengths = np.array(shifts), np.array(strengths)
    if strengths.min() < 0.05:
        return density, None
    shifts -= shifts.mean()
    aligned = density - slope * shifts[np.searchsorted(names, strip)]
    return aligned, _spread(shifts, strengths, aligned, group, count)


def _spread(shifts, strengths, aligned, group, count):
    free = len(shifts) - 1
    mean = np.bincount(group, weights=aligned, minlength=len(count)) / np.maximum(count, 1)
    dof = max(float(np.sum(np.maximum(count - 1, 0))) - free, 1.0)
    noise = float(np.sum((aligned - mean[group]) ** 2)) / dof
    by_noise = noise * float(np.mean(1.0 / strengths))
    total = float(np.sum(shifts**2))
    observed = total / free
    low, high = (total / float(chdtri(free, tail)) for tail in (0.025, 0.975))
    between, least, most = (np.sqrt(max(v - by_noise, 0.0)) for v in (observed, low, high))
    return StripSpread(
        count=len(shifts),
        stops=float(between) / STOP,
        low_stops=float(least) / STOP,
        high_stops=float(most) / STOP,
        error=float(between) / float(np.sqrt(len(shifts))),
        is_told=observed > by_noise * float(chdtri(free, TOLD_CHANCE)) / free,
    )
