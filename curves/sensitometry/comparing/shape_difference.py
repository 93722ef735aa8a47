"""What is left of a difference between two curves when speed and contrast are matched."""

import numpy as np
from scipy.special import chndtrinc

from curves.sensitometry.analysis import MODE_DIGITS
from curves.sensitometry.comparing.curve_alignment import AlignedCurve
from curves.sensitometry.measures import Measure, withheld
from curves.sensitometry.measuring.row_summaries import NORMAL_95
from curves.sensitometry.registry import MEASURES

CONTRAST_SPAN = 1.5
LEAST_SPAN = 0.6
BELOW = -0.3
ABOVE = 2.4
SPACING = 0.05
# Distances from the speed point that each part covers [log10 lx s] (house choice).
SHAPE_PARTS = {
    "toe_difference": (BELOW, 0.5),
    "middle_difference": (0.5, 1.5),
    "highlight_difference": (1.5, ABOVE),
}


def compare_shapes(test: AlignedCurve, reference: AlignedCurve) -> dict[str, Measure]:
    """Contrast ratio, and the shape that is left over, whole and in parts.

    Parameters
    ----------
    test, reference : AlignedCurve
        Curves seen from their speed points, shape (n,) [log10 lx s, D].

    Returns
    -------
    dict of str to Measure
        ``contrast_ratio`` [1], ``shape_difference`` and its three parts [D]; withheld when both were
        not measured over 0.6 above the speed point.

    Notes
    -----
    With s(u) the difference left over and S its error covariance on an even grid of m points, the root
    mean square is reported with the error's share tr S taken off, and its interval from the noncentral
    chi-square that matches the first two moments of the error (Satterthwaite).
    """
    low = max(test.reach[0], reference.reach[0], BELOW)
    high = min(test.reach[1], reference.reach[1], ABOVE)
    names = ("contrast_ratio", "shape_difference", *SHAPE_PARTS)
    if high < LEAST_SPAN:
        return {name: withheld(name, "NO_OVERLAP", MEASURES[name].unit) for name in names}
    span = min(CONTRAST_SPAN, high)
    distance = np.append(np.arange(low, high + 1e-9, SPACING), span)
    ours, our_modes = test.rise(distance)
    theirs, their_modes = reference.rise(distance)
    if min(ours[-1], theirs[-1]) < 0.05:
        return {name: withheld(name, "NOT_REACHED", MEASURES[name].unit) for name in names}
    ratio = ours[-1] / theirs[-1]
    ratio_modes = np.concatenate([our_modes[:, -1] / theirs[-1], -ratio * their_modes[:, -1] / theirs[-1]])
    shape = (ours - ratio * theirs)[:-1]
    modes = np.concatenate([our_modes, -ratio * their_modes])[:, :-1]
    modes = modes - ratio_modes[:, None] * theirs[:-1]
    note = f"rise over {span:.2f} log exposure from the speed point"
    found = {
        "contrast_ratio": _measure("contrast_ratio", ratio, _size(ratio_modes), note),
        "shape_difference": _root_mean_square(shape, modes),
    }
    for name, (start, end) in SHAPE_PARTS.items():
        inside = (distance[:-1] >= start) & (distance[:-1] <= end)
        if inside.sum() < 4:
            found[name] = withheld(name, "NO_OVERLAP", "D")
        else:
            mean, error = shape[inside].mean(), _size(modes[:, inside].mean(axis=1))
            found[name] = _measure(name, mean, error, "mean over the part")
    return found


def _size(modes):
    return float(np.sqrt(np.sum(modes**2)))


def _measure(name, value, error, note):
    ends = (value, value - NORMAL_95 * error, value + NORMAL_95 * error)
    numbers = (round(float(end), MODE_DIGITS) + 0.0 for end in ends)
    return Measure(name, *numbers, MEASURES[name].unit, None, note)


def _root_mean_square(shape, modes):
    count = len(shape)
    covariance = modes @ modes.T
    trace = max(float(np.trace(covariance)), 1e-12)
    dof = trace**2 / max(float(np.sum(covariance**2)), 1e-24)
    unit = trace / dof
    total = float(np.sum(shape**2)) / unit
    low, high = (_noncentrality(total, dof, level) for level in (0.975, 0.025))
    best = max(total - dof, 0.0)
    numbers = [np.sqrt(unit * each / count) for each in (best, low, max(high, best))]
    rounded = (round(float(number), MODE_DIGITS) for number in numbers)
    return Measure("shape_difference", *rounded, "D", None, "root mean square, reading error taken off")


def _noncentrality(total, dof, level):
    """Noncentrality at which a chi-square lies below the total with the given chance; 0 if there is none.

    Far out the inversion is replaced by the normal limit, which it has reached there.
    """
    if total > 400.0:
        shift = {0.975: -NORMAL_95, 0.025: NORMAL_95}[level]
        return max(0.0, (np.sqrt(total - 0.5 * dof) + shift) ** 2 - 0.5 * dof)
    found = float(chndtrinc(total, dof, level))
    return found if np.isfinite(found) and found > 0 else 0.0
