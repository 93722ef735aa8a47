"""Which averaged steps belong to the curve: not those after its maximum, nor at the instrument's limit."""

import numpy as np

from curves.sensitometry.measures import Flag

LEAST_STEPS = 5
LEAST_RISE = 0.15
# Standard errors that the slope of the end of the curve must be below zero to be called a fall.
FALL_LIMIT = 2.7


def usable_part(exposure, density, label, sd: float):
    """Cut at a maximum or at the instrument's limit; refuse what is no curve at all.

    Parameters
    ----------
    exposure, density : ndarray, shape (n,) [log10 lx s], [D]
        Averaged steps in order of exposure.
    label : ndarray of int, shape (n,) [1]
        Tablet steps, 0 where not given.
    sd : float, scalar [D]
        Reading noise as far as it is known beforehand.

    Returns
    -------
    is_used : ndarray of bool, shape (n,)
    is_clipped : bool
        Whether readings at the instrument's limit were cut.
    flags : list of Flag
    refusal : str or None
        Reason code when there is no curve.
    """
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
    peak = _solarised_from(exposure, density, smooth, sd)
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


def _solarised_from(exposure, density, smooth, sd):
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
    peak = start + int(np.argmax(density[block]))
    # A single low step at the end may as well be a slip; the fit decides whether it is left out.
    return peak if peak < len(smooth) - 2 else None


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
