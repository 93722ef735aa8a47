"""From raw readings to averaged steps: what is dropped, merged, cut and flagged before any fit."""

from dataclasses import dataclass

import numpy as np

from curves.sensitometry.density_corrections import correct_readings, correction_flags
from curves.sensitometry.fitting.step_cuts import usable_part
from curves.sensitometry.fitting.strip_spread import StripSpread, align_strips
from curves.sensitometry.measures import Flag
from curves.sensitometry.readings import Readings

MOST_STEPS = 200
# Densities and exposures beyond these are slips of the pen or of a unit (house choice).
DENSITY_LIMITS = (-1.0, 10.0)
EXPOSURE_LIMITS = (-20.0, 20.0)
# Reading noise assumed where nothing says otherwise, by the decimals that the readings are given to (an
# instrument that shows more is the quieter one), and the weight of that belief in readings (house choice).
USUAL_SD = {2: 0.012, 3: 0.006, None: 0.003}
USUAL_DOF = 0.5
REPLICATE_DOF_LIMIT = 8.0
KNOWN_DOF = 6.0


@dataclass(frozen=True, slots=True, eq=False)
class StepTable:
    """Averaged steps of one roll, in order of exposure.

    Parameters
    ----------
    log_exposure, density : ndarray, shape (n,) [log10 lx s], [D]
        Exposure and mean gross density of each step.
    count : ndarray, shape (n,) [1]
        Readings averaged in each.
    step : ndarray of int, shape (n,) [1]
        Tablet step; 0 where it was not given.
    is_used : ndarray of bool, shape (n,)
        False beyond a maximum or at the instrument's limit.
    base_mean : float or None, scalar [D]
        Mean of the unexposed readings.
    base_count : int, scalar [1]
        How many there are.
    prior_dof, prior_variance, least_variance : float, scalar [1], [D^2], [D^2]
        What is known of the variance of one reading before the fit; rounding's share of it.
    strips : StripSpread or None
        How far the strips lie apart along the exposure axis, where there are several.
    flags : tuple of Flag
        What a person should see.
    refusal : str or None
        Reason code when no curve can be drawn at all.
    is_clipped : bool
        Whether readings at the instrument's limit were left out.
    shared, base_shared : ndarray, shapes (r, n) and (r,) [D]
        What steps and base err by together, since their instruments were corrected; a row a standard
        deviation.
    """

    log_exposure: np.ndarray
    density: np.ndarray
    count: np.ndarray
    step: np.ndarray
    is_used: np.ndarray
    base_mean: float | None
    base_count: int
    prior_dof: float
    prior_variance: float
    least_variance: float
    strips: StripSpread | None
    flags: tuple[Flag, ...]
    refusal: str | None
    is_clipped: bool
    shared: np.ndarray
    base_shared: np.ndarray


def average_steps(readings: Readings) -> StepTable:
    """Average repeat readings step by step and mark what cannot be used.

    Parameters
    ----------
    readings : Readings
        Raw readings, shape (n,) [log10 lx s, D].

    Returns
    -------
    StepTable
        Steps in order of exposure, shape (m,) [log10 lx s, D].
    """
    corrected, unexposed, flags = _corrected(readings)
    is_good = _is_plausible(readings.log_exposure, EXPOSURE_LIMITS)
    is_good &= _is_plausible(readings.density, DENSITY_LIMITS)
    is_good_base = _is_plausible(readings.unexposed, DENSITY_LIMITS)
    dropped = int((~is_good).sum() + (~is_good_base).sum())
    is_good, is_good_base = is_good & corrected.is_tested, is_good_base & unexposed.is_tested
    base = unexposed.density[is_good_base]
    if dropped:
        text = f"{dropped} readings were not usable numbers and were left out."
        flags.append(Flag("DROPPED_READINGS", text))
    order = np.lexsort((corrected.density[is_good], readings.log_exposure[is_good]))
    exposure, density = readings.log_exposure[is_good][order], corrected.density[is_good][order]
    label = np.zeros(len(order), dtype=int) if readings.step is None else readings.step[is_good][order]
    group = _groups(exposure)
    keep, spoilt = _without_spoilt_replicates(exposure, density, group)
    flags.extend(spoilt)
    exposure, density, label, group = exposure[keep], density[keep], label[keep], group[keep]
    _, first, group = np.unique(group, return_index=True, return_inverse=True)
    count = np.bincount(group, minlength=len(first)).astype(float)
    mean_exposure = _mean_by_group(exposure, group, count)
    strip = None if readings.strip is None else readings.strip[is_good][order][keep]
    density, strips = align_strips(density, strip, group, mean_exposure)
    if strips is not None and strips.is_told:
        text = f"The strips lie {strips.stops:.2f} stop apart (standard deviation)."
        flags.append(Flag("STRIPS_DIFFER", text))
    mean_density = _mean_by_group(density, group, count)
    within = float(np.sum((density - mean_density[group]) ** 2))
    within += float(np.sum((base - base.mean()) ** 2)) if len(base) else 0.0
    dof = float((count - 1).sum() + max(len(base) - 1, 0))
    shared = corrected.errors[:, is_good][:, order][:, keep]
    # An instrument's decimals are those it shows, not those of a corrected reading.
    shown = readings.density[is_good][order][keep] if strips is None else density
    digits = _decimals(np.concatenate([shown, readings.unexposed[is_good_base]]))
    least = 1e-10 if digits is None else 10.0 ** (-2 * digits) / 12.0
    prior_dof, prior_variance = _noise_prior(readings.reading_sd, within, dof, USUAL_SD[digits], least)
    sd = float(np.sqrt(prior_variance))
    is_used, is_clipped, more, refusal = usable_part(mean_exposure, mean_density, label[first], sd)
    flags.extend(more)
    if not len(base):
        flags.append(Flag("NO_BASE_FOG", "No unexposed area was read, so base plus fog is not known."))
    return StepTable(
        log_exposure=mean_exposure,
        density=mean_density,
        count=count,
        step=np.asarray(label[first], dtype=int),
        is_used=is_used,
        base_mean=float(base.mean()) if len(base) else None,
        base_count=len(base),
        prior_dof=prior_dof,
        prior_variance=prior_variance,
        least_variance=least,
        strips=strips,
        flags=tuple(flags),
        refusal=refusal,
        is_clipped=is_clipped,
        shared=np.stack([_mean_by_group(each, group, count) for each in shared])
        if len(shared)
        else np.zeros((0, len(mean_density))),
        base_shared=unexposed.errors[:, is_good_base].mean(axis=1) if len(base) else np.zeros(len(shared)),
    )


def _corrected(readings):
    """Readings and unexposed readings after their corrections, and what to tell of it."""
    steps = correct_readings(readings.density, readings.corrected_by, readings.corrections)
    base = correct_readings(readings.unexposed, readings.unexposed_corrected_by, readings.corrections)
    flags = correction_flags(
        np.concatenate([readings.corrected_by, readings.unexposed_corrected_by]),
        np.concatenate([steps.is_tested, base.is_tested]),
        readings.corrections,
    )
    return steps, base, flags


def _is_plausible(values, limits):
    with np.errstate(invalid="ignore"):
        return np.isfinite(values) & (values >= limits[0]) & (values <= limits[1])


def _groups(exposure):
    """Number of the step of each reading; neighbours are merged when there are far too many steps."""
    if not len(exposure):
        return np.empty(0, dtype=int)
    distinct = np.concatenate([[0], np.cumsum(np.diff(exposure) > 1e-6)])
    if distinct[-1] < MOST_STEPS:
        return distinct
    span = exposure[-1] - exposure[0]
    return np.minimum((exposure - exposure[0]) / span * MOST_STEPS, MOST_STEPS - 1).astype(int)


def _without_spoilt_replicates(exposure, density, group):
    """Which readings to keep: of three or more on a step, one that is far off the others goes."""
    keep = np.ones(len(density), dtype=bool)
    flags = []
    counts = np.bincount(group) if len(group) else np.empty(0, dtype=int)
    if not (counts >= 3).any() or len(counts) > MOST_STEPS - 1:
        return keep, flags
    median = np.array([np.median(density[group == number]) for number in range(len(counts))])
    distance = np.abs(density - median[group])
    shown = distance[counts[group] >= 3]
    limit = max(0.05, 6.0 * 1.4826 * float(np.median(shown[shown > 0])) if (shown > 0).any() else 0.05)
    for index in np.nonzero((distance > limit) & (counts[group] >= 3))[0]:
        keep[index] = False
        text = f"One reading of {density[index]:.2f} D is far from the others on its step and was left out."
        flags.append(Flag("OUTLIER", text, log_exposure=float(exposure[index])))
    return keep, flags


def _mean_by_group(values, group, count):
    return np.bincount(group, weights=values, minlength=len(count)) / np.maximum(count, 1.0)


def _decimals(density):
    """Two or three when all readings are rounded so, None when they have more digits."""
    for digits in (2, 3):
        if np.allclose(density, np.round(density, digits), atol=1e-9):
            return digits
    return None


def _noise_prior(reading_sd, within, dof, usual_sd, least):
    """Degrees of freedom and variance that are known before the fit."""
    if reading_sd:
        return KNOWN_DOF, max(reading_sd**2, least)
    if dof >= 2:
        weight = min(dof, REPLICATE_DOF_LIMIT)
        return weight, max((within + usual_sd**2) / (dof + 1.0), least)
    return USUAL_DOF, max(usual_sd**2, least)
