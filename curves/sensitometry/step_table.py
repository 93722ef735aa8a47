"""From raw readings to averaged steps: what is dropped, merged, cut and flagged before any fit."""

from dataclasses import dataclass

import numpy as np

from curves.sensitometry.measures import Flag
from curves.sensitometry.readings import Readings
from curves.sensitometry.strip_spread import StripSpread, align_strips

LEAST_STEPS = 5
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
# Standard errors that the slope of the end of the curve must be below zero to be called a fall.
FALL_LIMIT = 2.7
LEAST_RISE = 0.15


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
    flags = []
    is_good = _is_plausible(readings.log_exposure, EXPOSURE_LIMITS)
    is_good &= _is_plausible(readings.density, DENSITY_LIMITS)
    base = readings.unexposed[_is_plausible(readings.unexposed, DENSITY_LIMITS)]
    dropped = int((~is_good).sum() + len(readings.unexposed) - len(base))
    if dropped:
        text = f"{dropped} readings were not usable numbers and were left out."
        flags.append(Flag("DROPPED_READINGS", text))
    order = np.lexsort((readings.density[is_good], readings.log_exposure[is_good]))
    exposure, density = readings.log_exposure[is_good][order], readings.density[is_good][order]
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
    digits = _decimals(np.concatenate([density, base]))
    least = 1e-10 if digits is None else 10.0 ** (-2 * digits) / 12.0
    prior_dof, prior_variance = _noise_prior(readings.reading_sd, within, dof, USUAL_SD[digits], least)
    sd = float(np.sqrt(prior_variance))
    is_used, is_clipped, more, refusal = _usable_part(mean_exposure, mean_density, label[first], sd)
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
    )


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


def _usable_part(exposure, density, label, sd):
    """Cut at a maximum or at the instrument's limit; refuse what is no curve at all."""
    flags = []
    is_used = np.ones(len(density), dtype=bool)
    if len(density) < LEAST_STEPS:
        text = f"{len(density)} usable steps; at least {LEAST_STEPS} are needed."
        flags.append(Flag("TOO_FEW_POINTS", text))
        return is_used, False, flags, "TOO_FEW_POINTS"
    smooth = _median_of_three(density)
    flags.extend(_falling_steps(exposure, density, label, sd))
    peak = len(smooth) - 1 - int(np.argmax(smooth[::-1]))
    drop = max(0.05, 4.0 * sd)
    if smooth[0] - smooth[-1] > drop and peak <= len(smooth) // 3:
        flags.append(Flag("NEGATIVE_CURVE", "Density falls as exposure rises; are the exposures reversed?"))
        return is_used, False, flags, "NON_MONOTONE"
    peak = _solarised_from(exposure, smooth, sd)
    if peak is not None:
        is_used[peak + 1 :] = False
        text = f"Density falls after {density[peak]:.2f} D; the curve is cut at its maximum."
        flags.append(Flag("SOLARISED", text, int(label[peak]) or None, float(exposure[peak])))
    clipped = _clipped_steps(density, is_used)
    if clipped.any():
        is_used &= ~clipped
        level = density[clipped][0]
        text = f"{int(clipped.sum())} steps read {level:.2f} D alike, as at an instrument's limit."
        flags.append(Flag("CLIPPED", text, log_exposure=float(exposure[clipped][0])))
    refusal = None
    if is_used.sum() < LEAST_STEPS:
        flags.append(Flag("TOO_FEW_POINTS", "Too few usable steps remain for a curve."))
        refusal = "TOO_FEW_POINTS"
    elif np.ptp(smooth[is_used]) < LEAST_RISE:
        refusal = "NOT_REACHED"
    return is_used, bool(clipped.any()), flags, refusal


def _solarised_from(exposure, smooth, sd):
    """Index of the maximum after which the curve falls beyond doubt, None where it does not.

    The last block of the rising curve that fits best is the one whose mean is largest (isotonic
    regression); within it, a slope well below zero is a fall.
    """
    means = np.cumsum(smooth[::-1]) / np.arange(1, len(smooth) + 1)
    start = len(smooth) - 1 - int(np.argmax(means))
    block = slice(start, None)
    across = exposure[block] - exposure[block].mean()
    spread = float(across @ across)
    if spread == 0.0 or float(across @ smooth[block]) / np.sqrt(spread) > -FALL_LIMIT * max(sd, 0.01):
        return None
    return start + int(np.argmax(smooth[block]))


def _median_of_three(density):
    inner = np.median(np.stack([density[:-2], density[1:-1], density[2:]]), axis=0)
    ends = np.median([density[0], density[1], density[2]]), np.median(density[-3:])
    return np.concatenate([[min(density[0], ends[0])], inner, [min(density[-1], ends[1] + 0.1)]])


def _falling_steps(exposure, density, label, sd):
    falls = np.nonzero(np.diff(density) < -max(0.03, 4.0 * sd))[0] + 1
    return [
        Flag(
            "FALLING_STEP",
            f"Density falls from {density[i - 1]:.2f} to {density[i]:.2f} D although the exposure rises.",
            int(label[i]) or None,
            float(exposure[i]),
        )
        for i in falls[:10]
    ]


def _clipped_steps(density, is_used):
    """Three or more last readings alike right after a steep rise: a limit, not a shoulder."""
    used = np.nonzero(is_used)[0]
    top = density[used[-1]]
    same = 0
    while same < len(used) and abs(density[used[-1 - same]] - top) < 1e-9:
        same += 1
    clipped = np.zeros(len(density), dtype=bool)
    if same < 3 or same > len(used) - 3:
        return clipped
    rises = np.diff(density[used[: len(used) - same + 1]])
    if rises[-2] > 0.6 * np.max(rises) and rises[-2] > 0.05:
        clipped[used[-same:]] = True
    return clipped
