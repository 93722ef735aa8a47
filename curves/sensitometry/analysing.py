"""Readings in, analyses out: the steps of the work in order, for one roll or for a whole lab at once."""

from collections.abc import Sequence

import numpy as np
from scipy.special import chdtri, stdtrit

from curves.sensitometry.analysis import CURVE_DIGITS, MODE_DIGITS, Analysis, Curve, Points, empty_curve
from curves.sensitometry.curve_constructions import describe_constructions
from curves.sensitometry.curve_posterior import CELLS, CELLS_BELOW, CurvePosterior, fit_curves
from curves.sensitometry.form_fit import StepBatch
from curves.sensitometry.measure_reports import BatchReport, Circumstances
from curves.sensitometry.measure_rows import read_rows
from curves.sensitometry.measures import Flag, Measure, SensitometryError, withheld
from curves.sensitometry.readings import Readings
from curves.sensitometry.registry import MEASURES, ROLL_MEASURES
from curves.sensitometry.row_summaries import NORMAL_95
from curves.sensitometry.step_table import StepTable, average_steps

BATCH_SIZE = 32
BASE_DISTANCE = 50.0
# Posterior probability of a departure from which it is told (house choice).
DEPARTURE_SHOWN = 0.98
NOISY_SD = 0.04


def analyse_readings(readings: Readings, *, box_speed: float | None = None) -> Analysis:
    """Characteristic curve and all measures of one roll.

    Parameters
    ----------
    readings : Readings
        Readings of one roll, shape (n,) [log10 lx s, D].
    box_speed : float, scalar [ISO arithmetic], optional
        Speed on the box, to compare with.

    Returns
    -------
    Analysis
        The same bytes for the same input. Data that support no number give withheld measures.

    Raises
    ------
    SensitometryError
        When the box speed is not above zero.

    Examples
    --------
    >>> x = np.linspace(-3.5, -0.5, 21)
    >>> d = 0.25 + 0.14 * np.logaddexp(0.0, (x + 2.6) / 0.2)
    >>> analysis = analyse_readings(Readings(x, d, [0.25, 0.25]))
    >>> round(analysis.measures["speed_point_log_exposure"].value, 2)
    -2.59
    """
    return analyse_many([readings], box_speeds=[box_speed])[0]


def analyse_many(
    readings: Sequence[Readings], *, box_speeds: Sequence[float | None] | None = None
) -> list[Analysis]:
    """Analyse many rolls at once; each result is the same as that of the roll alone.

    Parameters
    ----------
    readings : sequence of Readings, length b
        One a roll [log10 lx s, D].
    box_speeds : sequence of float or None, shape (b,) [ISO arithmetic], optional
        Speeds on the boxes.

    Returns
    -------
    list of Analysis, length b

    Raises
    ------
    SensitometryError
        When the numbers of rolls and box speeds differ, or a box speed is not above zero.
    """
    box_speeds = [None] * len(readings) if box_speeds is None else list(box_speeds)
    if len(box_speeds) != len(readings):
        raise SensitometryError("LENGTHS_DIFFER", "Give one box speed (or None) for each roll.")
    for speed in box_speeds:
        if speed is not None and not (np.isfinite(speed) and speed > 0):
            raise SensitometryError("BAD_BOX_SPEED", "A box speed must be a number above zero.")
    tables = [average_steps(each) for each in readings]
    results: list[Analysis | None] = [None] * len(readings)
    drawable = [k for k, table in enumerate(tables) if table.refusal is None]
    # Equal lengths together, so that little is padded; the results do not depend on the grouping.
    drawable.sort(key=lambda k: len(tables[k].log_exposure))
    for start in range(0, len(drawable), BATCH_SIZE):
        chosen = drawable[start : start + BATCH_SIZE]
        parts = [(readings[k], tables[k], box_speeds[k]) for k in chosen]
        for k, analysis in zip(chosen, _analyse_batch(parts), strict=True):
            results[k] = analysis
    for k, table in enumerate(tables):
        if table.refusal is not None:
            results[k] = _refused(readings[k], table, box_speeds[k])
    return results


def _analyse_batch(parts):
    batch = _step_batch(parts)
    posterior = fit_curves(batch)
    is_used = (posterior.batch.weight > 0) & ~batch.is_base
    used = [exposure[mask] for exposure, mask in zip(batch.log_exposure, is_used, strict=True)]
    rows = read_rows(posterior.curves, used)
    report = BatchReport(rows)
    return [_one_analysis(k, *parts[k], posterior, rows, report, used[k]) for k in range(len(parts))]


def _step_batch(parts):
    count = max(len(table.log_exposure) for _, table, _ in parts) + 1
    shape = (len(parts), count)
    exposure, density, weight = np.zeros(shape), np.zeros(shape), np.zeros(shape)
    is_base = np.zeros(shape, dtype=bool)
    low, high = np.zeros(len(parts)), np.zeros(len(parts))
    for k, (_, table, _) in enumerate(parts):
        n = len(table.log_exposure)
        low[k], high[k] = table.log_exposure[table.is_used][[0, -1]]
        exposure[k] = low[k]
        exposure[k, 0] = low[k] - BASE_DISTANCE
        density[k, 0] = 0.0 if table.base_mean is None else table.base_mean
        weight[k, 0] = table.base_count
        is_base[k, 0] = True
        exposure[k, 1 : n + 1] = table.log_exposure
        density[k, 1 : n + 1] = table.density
        weight[k, 1 : n + 1] = table.count * table.is_used
    return StepBatch(
        log_exposure=exposure,
        density=density,
        weight=weight,
        is_base=is_base,
        low=low,
        high=high,
        prior_dof=np.array([table.prior_dof for _, table, _ in parts]),
        prior_variance=np.array([table.prior_variance for _, table, _ in parts]),
        least_variance=np.array([table.least_variance for _, table, _ in parts]),
        tablet_sd=np.array([readings.tablet_sd or 0.0 for readings, _, _ in parts]),
        strip_error=np.array([table.strips.error if table.strips else 0.0 for _, table, _ in parts]),
    )


def _one_analysis(k, readings, table, box_speed, posterior, rows, report, used):
    around = Circumstances(
        low=float(posterior.batch.low[k]),
        high=float(posterior.batch.high[k]),
        has_base=table.base_count > 0,
        is_absolute=readings.exposure == "absolute",
        is_clipped=table.is_clipped,
        box_speed=box_speed,
    )
    curve = _curve(k, posterior, around.has_base)
    variance = float(max(posterior.posterior.noise_variance[k], table.least_variance))
    dof = float(posterior.posterior.noise_dof[k])
    measures = report.measures(k, around)
    measures["base_plus_fog"] = _base_plus_fog(table, variance, dof)
    measures["reading_noise"] = _noise(variance, dof)
    measures["between_strip_stops"] = _between_strips(table.strips)
    points = _points(k, table, posterior)
    return Analysis(
        measures={name: measures[name] for name in ROLL_MEASURES},
        curve=curve,
        points=points,
        flags=table.flags + _fit_flags(k, table, points, posterior, rows, measures),
        constructions=describe_constructions(measures, curve, report, k, used),
        exposure=readings.exposure,
        box_speed=None if box_speed is None else float(box_speed),
        noise_sd=round(float(np.sqrt(variance)), MODE_DIGITS),
        roll_count=1,
        between_roll={},
    )


def _curve(k, posterior: CurvePosterior, has_base):
    each = len(posterior.curves.base) // len(posterior.modes)
    row = k * each
    inside = slice(CELLS_BELOW, CELLS_BELOW + CELLS + 1)
    grid = posterior.curves.origin[row] + posterior.curves.spacing[row] * np.arange(
        CELLS_BELOW, CELLS_BELOW + CELLS + 1
    )
    density = posterior.curves.density[row, inside]
    modes = posterior.modes[k][:, inside]
    half = NORMAL_95 * np.sqrt((modes**2).sum(axis=0))
    return Curve(
        log_exposure=np.round(grid, CURVE_DIGITS),
        density=np.round(density, CURVE_DIGITS),
        low=np.round(density - half, CURVE_DIGITS),
        high=np.round(density + half, CURVE_DIGITS),
        gradient=np.round(posterior.curves.gradient[row, inside], CURVE_DIGITS),
        modes=np.round(modes, MODE_DIGITS),
        base=round(float(posterior.curves.base[row]), CURVE_DIGITS) if has_base else None,
        base_modes=np.round(posterior.base_modes[k], MODE_DIGITS),
    )


def _points(k, table: StepTable, posterior: CurvePosterior | None):
    n = len(table.log_exposure)
    residual, is_out = np.zeros(n), ~table.is_used
    if posterior is not None:
        each = len(posterior.curves.base) // len(posterior.modes)
        grid = posterior.curves.origin[k * each] + posterior.curves.spacing[k * each] * np.arange(
            posterior.curves.density.shape[1]
        )
        residual = table.density - np.interp(table.log_exposure, grid, posterior.curves.density[k * each])
        is_out = posterior.batch.weight[k, 1 : n + 1] == 0
    return Points(
        log_exposure=np.round(table.log_exposure, MODE_DIGITS),
        density=np.round(table.density, CURVE_DIGITS),
        residual=np.round(residual, CURVE_DIGITS),
        count=table.count.astype(int),
        step=table.step,
        is_flagged=is_out,
    )


def _base_plus_fog(table, variance, dof):
    if table.base_mean is None:
        return withheld("base_plus_fog", "NO_BASE_FOG", "D")
    half = float(stdtrit(dof, 0.975)) * np.sqrt(variance / table.base_count)
    many = table.base_count > 1
    note = f"mean of {table.base_count} unexposed readings" if many else "one unexposed reading"
    ends = (table.base_mean, table.base_mean - half, table.base_mean + half)
    return Measure("base_plus_fog", *(round(float(end), MODE_DIGITS) for end in ends), "D", None, note)


def _between_strips(strips):
    if strips is None:
        return withheld("between_strip_stops", "NO_INTERVAL", "stop")
    ends = (round(end, MODE_DIGITS) for end in (strips.stops, strips.low_stops, strips.high_stops))
    return Measure("between_strip_stops", *ends, "stop", None, f"{strips.count} strips")


def _noise(variance, dof):
    ends = [np.sqrt(variance * dof / float(chdtri(dof, level))) for level in (0.025, 0.975)]
    numbers = (round(float(number), MODE_DIGITS) for number in (np.sqrt(variance), *ends))
    return Measure("reading_noise", *numbers, "D", None, "scatter about the curve")


def _fit_flags(k, table, points, posterior, rows, measures):
    """What the fit itself shows: outliers, departures, an open top, a missing toe, much noise."""
    flags = []
    last = np.nonzero(~points.is_flagged)[0][-1]
    for index in np.nonzero(points.is_flagged & table.is_used)[0]:
        place, step = float(points.log_exposure[index]), int(points.step[index]) or None
        if index > last and points.density[index] < points.density[last]:
            text = f"Density falls to {points.density[index]:.2f} D; the curve is cut at its maximum."
            flags.append(Flag("SOLARISED", text, step, place))
            continue
        text = f"{points.density[index]:.2f} D is {points.residual[index]:+.2f} D off the others' curve."
        flags.append(Flag("OUTLIER", text, step, place))
    share = float(posterior.posterior.departure_weight[k])
    if share > DEPARTURE_SHOWN:
        text = "The curve is not the usual toe, straight part and shoulder; the fit follows the readings."
        flags.append(Flag("SHAPE_DEPARTURE", text))
    if rows.crossings[k] > 1:
        flags.append(Flag("MULTIPLE_CROSSINGS", f"The speed criterion is crossed {rows.crossings[k]} times."))
    if measures["d_max"].value is not None and measures["d_max"].high is None:
        flags.append(Flag("STILL_RISING", "The curve still rises at the last step: Dmax is at least that."))
    if measures["speed_point_log_exposure"].reason == "BELOW_RANGE":
        flags.append(Flag("MISSING_TOE", "The lowest step is already past the speed criterion."))
    noise = measures["reading_noise"].value
    if noise > NOISY_SD:
        flags.append(Flag("NOISY", f"The readings scatter by {noise:.3f} D about any smooth curve."))
    if table.base_mean is not None and points.density[0] < table.base_mean - max(0.03, 4 * noise):
        flags.append(Flag("BASE_ABOVE_LOW_STEPS", "The unexposed area reads denser than the lowest step."))
    return tuple(flags)


def _refused(readings, table, box_speed):
    """An analysis without a curve: all withheld for the same reason, except base plus fog if it was read."""
    measures = {name: withheld(name, table.refusal, MEASURES[name].unit) for name in ROLL_MEASURES}
    if table.base_count:
        measures["base_plus_fog"] = _base_plus_fog(table, table.prior_variance, max(table.prior_dof, 2.0))
    return Analysis(
        measures=measures,
        curve=empty_curve(),
        points=_points(0, table, None),
        flags=table.flags,
        constructions={},
        exposure=readings.exposure,
        box_speed=None if box_speed is None else float(box_speed),
        noise_sd=None,
        roll_count=1,
        between_roll={},
    )
