"""Readings in, analyses out: the steps of the work in order, for one roll or for a whole lab at once."""

from collections.abc import Sequence

import numpy as np

from curves.sensitometry.analysis import MODE_DIGITS, Analysis, empty_curve
from curves.sensitometry.fitting.curve_posterior import draw_curves
from curves.sensitometry.fitting.fit_flags import fit_flags
from curves.sensitometry.fitting.outlying_steps import fit_without_outliers
from curves.sensitometry.fitting.step_batch import batch_of
from curves.sensitometry.fitting.step_table import average_steps
from curves.sensitometry.measures import SensitometryError
from curves.sensitometry.measuring.curve_constructions import describe_constructions
from curves.sensitometry.measuring.measure_reports import BatchReport, Circumstances
from curves.sensitometry.measuring.measure_rows import read_rows
from curves.sensitometry.measuring.reported_measures import in_relative_units, refused
from curves.sensitometry.measuring.roll_records import (
    base_plus_fog,
    between_strips,
    corrections_in,
    reading_noise,
    stored_curve,
    stored_points,
    tablet_share,
)
from curves.sensitometry.readings import Readings
from curves.sensitometry.registry import ROLL_MEASURES

# Rolls fitted together, and rolls drawn together: so few that their draws stay in the processor's cache.
FIT_SIZE = 256
DRAW_SIZE = 24


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
    for start in range(0, len(drawable), FIT_SIZE):
        chosen = drawable[start : start + FIT_SIZE]
        parts = ([each[k] for k in chosen] for each in (readings, tables, box_speeds))
        for k, analysis in zip(chosen, _analyse_together(*parts), strict=True):
            results[k] = analysis
    for k, table in enumerate(tables):
        if table.refusal is not None:
            results[k] = _refused(readings[k], table, box_speeds[k])
    return results


def _analyse_together(readings, tables, box_speeds):
    """Fit all the forms at once, then draw and read the curves a few at a time."""
    batch, fit = fit_without_outliers(batch_of(tables, [each.tablet_sd for each in readings]))
    rolls = list(zip(readings, tables, box_speeds, strict=True))
    for start in range(0, len(rolls), DRAW_SIZE):
        chosen = slice(start, start + DRAW_SIZE)
        yield from _analyse_drawn(rolls[chosen], draw_curves(batch.rows(chosen), fit.rows(chosen)))


def _analyse_drawn(rolls, posterior):
    batch = posterior.batch
    is_used = (batch.weight > 0) & ~batch.is_base
    places = batch.origin[:, None] + batch.log_exposure
    used = [place[mask] for place, mask in zip(places, is_used, strict=True)]
    report = BatchReport(read_rows(posterior.curves, used))
    for number, (roll, steps) in enumerate(zip(rolls, used, strict=True)):
        yield _one_analysis(number, *roll, steps, posterior, report)


def _one_analysis(number, readings, table, box_speed, used, posterior, report):
    circumstances = Circumstances(
        low=float(posterior.batch.origin[number] + posterior.batch.low[number]),
        high=float(posterior.batch.origin[number] + posterior.batch.high[number]),
        has_base=table.base_count > 0,
        is_absolute=readings.exposure == "absolute",
        is_clipped=table.is_clipped,
        box_speed=box_speed,
    )
    curve = stored_curve(posterior, number, circumstances.has_base)
    points = stored_points(table, posterior, number)
    variance = float(max(posterior.posterior.noise_variance[number], table.least_variance))
    dof = float(posterior.posterior.noise_dof[number])
    measures = report.measures(number, circumstances)
    measures["base_plus_fog"] = base_plus_fog(table, variance, dof)
    measures["reading_noise"] = reading_noise(variance, dof)
    measures["between_strip_stops"] = between_strips(table.strips)
    flags = fit_flags(
        table,
        points,
        measures,
        departure_weight=float(posterior.posterior.departure_weight[number]),
        crossings=report.crossings(number),
    )
    return Analysis(
        measures={name: measures[name] for name in ROLL_MEASURES},
        curve=curve,
        points=points,
        flags=table.flags + flags,
        constructions=describe_constructions(measures, curve, report, number, used),
        exposure=readings.exposure,
        box_speed=None if box_speed is None else float(box_speed),
        noise_sd=round(float(np.sqrt(variance)), MODE_DIGITS),
        roll_count=1,
        between_roll={},
        tablet_share=tablet_share(posterior, number),
        corrected_by=corrections_in(readings),
        correction_share=round(float(posterior.net_share[number]), MODE_DIGITS),
        base_correction_share=round(float(posterior.base_share[number]), MODE_DIGITS),
    )


def _refused(readings, table, box_speed):
    """An analysis without a curve: all withheld for the same reason, except base plus fog if it was read."""
    measures = {name: refused(name, table.refusal) for name in ROLL_MEASURES}
    if readings.exposure == "relative":
        measures = {name: in_relative_units(measure) for name, measure in measures.items()}
    if table.base_count:
        measures["base_plus_fog"] = base_plus_fog(table, table.prior_variance, max(table.prior_dof, 2.0))
    return Analysis(
        measures=measures,
        curve=empty_curve(),
        points=stored_points(table),
        flags=table.flags,
        constructions={},
        exposure=readings.exposure,
        box_speed=None if box_speed is None else float(box_speed),
        noise_sd=None,
        roll_count=1,
        between_roll={},
        tablet_share=0.0,
        corrected_by=corrections_in(readings),
    )
