"""What a fit shows that a person should see: readings far off, odd shapes, open ends, much noise."""

import numpy as np

from curves.sensitometry.analysis import Points
from curves.sensitometry.fitting.step_table import StepTable
from curves.sensitometry.measures import Flag, Measure

# Posterior probability of a departure from which it is told, and noise of one reading that is too much for
# a densitometer in order (house choice).
DEPARTURE_SHOWN = 0.98
NOISY_SD = 0.04


def fit_flags(
    table: StepTable,
    points: Points,
    measures: dict[str, Measure],
    *,
    departure_weight: float,
    crossings: int,
) -> tuple[Flag, ...]:
    """Flags of one fitted roll, to be added to those of its readings.

    Parameters
    ----------
    table : StepTable
        Steps as they came, shape (n,) [log10 lx s, D].
    points : Points
        Steps as they were used, shape (n,) [log10 lx s, D].
    measures : dict of str to Measure
        Measures of the roll.
    departure_weight : float, scalar [1]
        Posterior probability that the curve departs from the usual form.
    crossings : int, scalar [1]
        How often it crosses the speed criterion upwards.

    Returns
    -------
    tuple of Flag
    """
    flags = _left_out(table, points)
    if departure_weight > DEPARTURE_SHOWN:
        text = "The curve is not the usual toe, straight part and shoulder; the fit follows the readings."
        flags.append(Flag("SHAPE_DEPARTURE", text))
    if crossings > 1:
        flags.append(Flag("MULTIPLE_CROSSINGS", f"The speed criterion is crossed {crossings} times."))
    if measures["d_max"].is_lower_bound:
        flags.append(Flag("STILL_RISING", "The curve still rises at the last step: Dmax is at least that."))
    if measures["speed_point_log_exposure"].reason == "BELOW_RANGE":
        flags.append(Flag("MISSING_TOE", "The lowest step is already past the speed criterion."))
    noise = measures["reading_noise"].value
    if noise > NOISY_SD:
        flags.append(Flag("NOISY", f"The readings scatter by {noise:.3f} D about any smooth curve."))
    if table.base_mean is not None and points.density[0] < table.base_mean - max(0.03, 4 * noise):
        flags.append(Flag("BASE_ABOVE_LOW_STEPS", "The unexposed area reads denser than the lowest step."))
    return tuple(flags)


def _left_out(table, points):
    """Steps that the fit left out: far off, or two and more that end the curve below its maximum."""
    flags = []
    last = np.nonzero(~points.is_flagged)[0][-1]
    left_out = np.nonzero(points.is_flagged & table.is_used)[0]
    is_falling = (left_out > last) & (points.density[left_out] < points.density[last])
    for index, falls in zip(left_out, is_falling, strict=True):
        place, step = float(points.log_exposure[index]), int(points.step[index]) or None
        density = points.density[index]
        if falls and is_falling.sum() > 1:
            text = f"Density falls to {density:.2f} D; the curve is cut at its maximum."
            flags.append(Flag("SOLARISED", text, step, place))
            continue
        text = f"{density:.2f} D is {points.residual[index]:+.2f} D off the curve of the other steps"
        # One low step at the end may be either; only more steps could tell.
        text += ": a slip, or the film solarises there." if falls else "."
        flags.append(Flag("OUTLIER", text, step, place))
    return flags
