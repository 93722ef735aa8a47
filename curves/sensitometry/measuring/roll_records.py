"""What is kept of one roll beside the measures read off its curve: curve, points, base and noise."""

import numpy as np
from scipy.special import chdtri, stdtrit

from curves.sensitometry.analysis import CURVE_DIGITS, MODE_DIGITS, Curve, Points
from curves.sensitometry.fitting.curve_posterior import CurvePosterior
from curves.sensitometry.fitting.step_table import StepTable
from curves.sensitometry.fitting.strip_spread import StripSpread
from curves.sensitometry.measures import Measure
from curves.sensitometry.measuring.reported_measures import refused, reported
from curves.sensitometry.measuring.row_summaries import NORMAL_95
from curves.sensitometry.readings import Readings


def stored_curve(posterior: CurvePosterior, number: int, has_base: bool) -> Curve:
    """One curve of a batch over its measured range, rounded as it is stored.

    Parameters
    ----------
    posterior : CurvePosterior
        Fitted batch [log10 lx s, D].
    number : int, scalar [1]
        Which of its curves.
    has_base : bool
        Whether an unexposed area was read.

    Returns
    -------
    Curve
        Arrays of shape (n,).
    """
    row = posterior.best_row(number)
    inside = slice(*posterior.curves.inside)
    density = posterior.curves.density[row, inside]
    modes = posterior.modes[number][:, inside]
    half = NORMAL_95 * np.sqrt((modes**2).sum(axis=0))
    return Curve(
        log_exposure=np.round(posterior.grid(number)[inside], CURVE_DIGITS),
        density=np.round(density, CURVE_DIGITS),
        low=np.round(density - half, CURVE_DIGITS),
        high=np.round(density + half, CURVE_DIGITS),
        gradient=np.round(posterior.curves.gradient[row, inside], CURVE_DIGITS),
        modes=np.round(modes, MODE_DIGITS),
        base=round(float(posterior.curves.base[row]), CURVE_DIGITS) if has_base else None,
        base_modes=np.round(posterior.base_modes[number], MODE_DIGITS),
    )


def stored_points(table: StepTable, posterior: CurvePosterior | None = None, number: int = 0) -> Points:
    """The averaged steps with their residuals; beyond the curve's end they count from its last density.

    Parameters
    ----------
    table : StepTable
        Steps, shape (n,) [log10 lx s, D].
    posterior : CurvePosterior, optional
        Fitted batch; without one there is no residual.
    number : int, scalar [1]
        Which of its curves.

    Returns
    -------
    Points
        Arrays of shape (n,).
    """
    count = len(table.log_exposure)
    residual, is_flagged = np.zeros(count), ~table.is_used
    if posterior is not None:
        curve = posterior.curves.density[posterior.best_row(number)]
        residual = table.density - np.interp(table.log_exposure, posterior.grid(number), curve)
        is_flagged = posterior.batch.weight[number, 1 : count + 1] == 0
    return Points(
        log_exposure=np.round(table.log_exposure, MODE_DIGITS),
        density=np.round(table.density, CURVE_DIGITS),
        residual=np.round(residual, CURVE_DIGITS),
        count=table.count.astype(int),
        step=table.step,
        is_flagged=is_flagged,
    )


def tablet_share(posterior: CurvePosterior, number: int) -> float:
    """Share of the error variance on the slope that the tablet's calibration makes.

    It is common to all rolls that were exposed with the tablet, so pooling does not average it away.

    Parameters
    ----------
    posterior : CurvePosterior
        Fitted batch.
    number : int, scalar [1]
        Which of its curves.

    Returns
    -------
    share : float, scalar [1]
    """
    batch = posterior.batch
    tablet = float(batch.tablet_sd[number])
    is_used = (batch.weight[number] > 0) & ~batch.is_base[number]
    if tablet == 0.0:
        return 0.0
    slopes = posterior.curves.gradient[posterior.best_row(number)]
    places = batch.origin[number] + batch.log_exposure[number][is_used]
    slope = np.interp(places, posterior.grid(number), slopes)
    common = (slope * tablet) ** 2
    own = posterior.posterior.noise_variance[number] / batch.weight[number][is_used]
    return round(float(np.sum(slope**2 * common / (common + own)) / np.sum(slope**2)), MODE_DIGITS)


def corrections_in(readings: Readings) -> tuple[str, ...]:
    """Names of the corrections that some of the readings have.

    Parameters
    ----------
    readings : Readings
        Of one roll, shape (n,) [D].

    Returns
    -------
    titles : tuple of str
    """
    used = {*readings.corrected_by.tolist(), *readings.unexposed_corrected_by.tolist()}
    return tuple(each.title for k, each in enumerate(readings.corrections) if k in used)


def base_plus_fog(table: StepTable, variance: float, dof: float) -> Measure:
    """Mean of the unexposed readings with the interval that their number, noise and corrections give.

    Parameters
    ----------
    table : StepTable
        With the mean of the unexposed readings [D].
    variance, dof : float, scalar [D^2], [1]
        Variance of one reading and the degrees of freedom that it rests on.

    Returns
    -------
    Measure
        Scalar [D].
    """
    if table.base_mean is None:
        return refused("base_plus_fog", "NO_BASE_FOG")
    half = float(stdtrit(dof, 0.975)) * np.sqrt(variance / table.base_count)
    if len(table.base_shared):
        half = float(np.hypot(half, NORMAL_95 * np.sqrt(np.sum(table.base_shared**2))))
    many = table.base_count > 1
    note = f"mean of {table.base_count} unexposed readings" if many else "one unexposed reading"
    mean = table.base_mean
    return reported("base_plus_fog", (mean, mean - half, mean + half), note)


def reading_noise(variance: float, dof: float) -> Measure:
    """Standard deviation of one reading with its chi-square interval.

    Parameters
    ----------
    variance, dof : float, scalar [D^2], [1]
        Variance of one reading and the degrees of freedom that it rests on.

    Returns
    -------
    Measure
        Scalar [D].
    """
    ends = [np.sqrt(variance * dof / float(chdtri(dof, level))) for level in (0.025, 0.975)]
    return reported("reading_noise", (np.sqrt(variance), *ends), "scatter about the curve")


def between_strips(strips: StripSpread | None) -> Measure:
    """Spread of the strips along the exposure axis, scalar [stop]; withheld for a single strip."""
    if strips is None:
        return refused("between_strip_stops", "NO_INTERVAL")
    ends = (strips.stops, strips.low_stops, strips.high_stops)
    return reported("between_strip_stops", ends, f"{strips.count} strips")
