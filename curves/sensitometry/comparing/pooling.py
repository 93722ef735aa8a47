"""A stock's curve from its accepted rolls: aligned, averaged, with the spread from roll to roll worked in.

Rolls differ in three ways that matter: along the exposure axis (exposure, process), in contrast
(development) and in base plus fog. Each is pooled by random effects; the mean curve is put together from
the mean speed point, the mean rise from it and the mean base, and the three spreads enter its error as
modes beside the reading errors. All measures are then read off that curve by the same code as a roll's.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from curves.sensitometry.analysis import CURVE_DIGITS, MODE_DIGITS, Analysis, Curve, Points
from curves.sensitometry.comparing.curve_alignment import AlignedCurve, align, interpolate
from curves.sensitometry.comparing.random_effects import RandomEffects, pool_random_effects
from curves.sensitometry.fitting.curve_posterior import MODE_COUNT
from curves.sensitometry.fitting.gridded_curves import GriddedCurves
from curves.sensitometry.fitting.posterior_draws import ROWS_PER_CURVE, with_draws
from curves.sensitometry.measures import Flag, Measure, SensitometryError
from curves.sensitometry.measuring.curve_constructions import describe_constructions
from curves.sensitometry.measuring.measure_reports import BatchReport, Circumstances
from curves.sensitometry.measuring.measure_rows import read_rows
from curves.sensitometry.measuring.reported_measures import refused
from curves.sensitometry.measuring.row_summaries import NORMAL_95
from curves.sensitometry.measuring.speed_points import SPEED_DENSITY
from curves.sensitometry.registry import ROLL_MEASURES

GRID_COUNT = 113
# Prior scales of the spread from roll to roll (house choice, after common practice of careful labs):
# a sixth of a stop in log exposure, 4 % in contrast, 0.015 D in base plus fog.
EXPOSURE_SCALE = 0.05
CONTRAST_SCALE = 0.04
BASE_SCALE = 0.015
DIFFER_LEVEL = 0.01


def pool_analyses(analyses: Sequence[Analysis]) -> Analysis:
    """Pool the analyses of several rolls of one stock.

    Parameters
    ----------
    analyses : sequence of Analysis, length n
        Accepted rolls under the same standards.

    Returns
    -------
    Analysis
        ``roll_count`` says how many rolls stand behind it. A single roll comes back as it is with the
        flag SINGLE_ROLL. Rolls without a speed point are left out with the flag ROLL_LEFT_OUT.

    Raises
    ------
    SensitometryError
        When there is no analysis, or absolute and relative exposures are mixed.
    """
    if not analyses:
        raise SensitometryError("NOTHING_TO_POOL", "Give at least one analysis.")
    if len({analysis.exposure for analysis in analyses}) > 1:
        text = "Rolls with absolute and relative exposure cannot be pooled."
        raise SensitometryError("MIXED_EXPOSURE", text)
    aligned = [(analysis, align(analysis)) for analysis in analyses]
    kept = [(analysis, view) for analysis, view in aligned if view is not None]
    flags = []
    if len(kept) < len(analyses) and kept:
        left = len(analyses) - len(kept)
        flags.append(Flag("ROLL_LEFT_OUT", f"{left} of {len(analyses)} rolls have no speed point."))
    if len(kept) < 2:
        only = kept[0][0] if kept else analyses[0]
        text = "One roll only: the spread from roll to roll is not known."
        return replace(only, flags=(*only.flags, *flags, Flag("SINGLE_ROLL", text)))
    return _pool([analysis for analysis, _ in kept], [view for _, view in kept], flags)


def _pool(analyses, views, flags):
    exposure = pool_random_effects(
        [view.place for view in views], [_length(view.place_modes) for view in views], EXPOSURE_SCALE
    )
    bases = [analysis.measures["base_plus_fog"] for analysis in analyses]
    base = pool_random_effects(
        [view.curve.base for view in views], [_length(view.curve.base_modes) for view in views], BASE_SCALE
    )
    contrast = _pool_contrast(views)
    # What corrections of instruments leave uncertain may be common to rolls, too; which rolls share an
    # instrument is not asked: to take it for common to all is on the safe side.
    shares = [_either(each.tablet_share, each.correction_share) for each in analyses]
    base_shares = [analysis.base_correction_share for analysis in analyses]
    curve = _mean_curve(views, (shares, base_shares), exposure, contrast, base)
    rows, used = _rows_of(curve), _steps(analyses, curve)
    measured = read_rows(rows, [used])
    report = BatchReport(measured)
    around = Circumstances(
        low=float(curve.log_exposure[0]),
        high=float(curve.log_exposure[-1]),
        has_base=True,
        is_absolute=analyses[0].exposure == "absolute",
        is_clipped=any(analysis.measures["d_max"].reason == "SATURATED" for analysis in analyses),
        box_speed=analyses[0].box_speed,
    )
    measures = report.measures(0, around)
    measures["base_plus_fog"] = _pooled_base(bases, base_shares)
    noise = [analysis.noise_sd for analysis in analyses if analysis.noise_sd is not None]
    noise_sd = round(float(np.sqrt(np.mean(np.square(noise)))), MODE_DIGITS)
    note = "mean over the rolls"
    measures["reading_noise"] = Measure("reading_noise", noise_sd, None, None, "D", None, note)
    measures["between_strip_stops"] = refused("between_strip_stops", "NO_INTERVAL")
    points = _points(analyses, curve)
    return Analysis(
        measures={name: measures[name] for name in ROLL_MEASURES},
        curve=curve,
        points=points,
        flags=(*flags, *_pool_flags(len(views), exposure, contrast), *_correction_flags(analyses)),
        constructions=describe_constructions(measures, curve, report, 0, used),
        exposure=analyses[0].exposure,
        box_speed=analyses[0].box_speed,
        noise_sd=noise_sd,
        roll_count=len(views),
        tablet_share=round(float(np.mean([each.tablet_share for each in analyses])), MODE_DIGITS),
        corrected_by=tuple(dict.fromkeys(title for each in analyses for title in each.corrected_by)),
        correction_share=round(float(np.mean([each.correction_share for each in analyses])), MODE_DIGITS),
        base_correction_share=round(float(np.mean(base_shares)), MODE_DIGITS),
        between_roll={
            "speed_point_log_exposure": round(exposure.spread, MODE_DIGITS),
            "average_gradient_ratio": round(contrast.spread, MODE_DIGITS),
            "base_plus_fog": round(base.spread, MODE_DIGITS),
        },
    )


def _length(modes):
    return float(np.sqrt(np.sum(modes**2)))


def _pool_contrast(views) -> RandomEffects:
    """Random effects of the logarithm of the mean gradient over the span that all rolls have."""
    span = np.array([min(1.5, *(view.reach[1] for view in views))])
    rises = [view.rise(span) for view in views]
    values = [float(np.log(max(rise[0], 1e-3))) for rise, _ in rises]
    errors = [_length(modes[:, 0]) / max(float(rise[0]), 1e-3) for rise, modes in rises]
    return pool_random_effects(values, errors, CONTRAST_SCALE)


def _mean_curve(views: list[AlignedCurve], shares, exposure, contrast, base) -> Curve:
    shares, base_shares = shares
    low = max(view.reach[0] for view in views) + exposure.mean
    high = min(view.reach[1] for view in views) + exposure.mean
    grid = np.linspace(low, high, GRID_COUNT)
    distance = grid - exposure.mean
    rises = [view.rise(distance) for view in views]
    rise = sum(weight * each for weight, (each, _) in zip(contrast.weights, rises, strict=True))
    density = base.mean + SPEED_DENSITY + rise
    gradient = sum(
        weight * interpolate(view.curve, view.curve.gradient, view.place + distance)
        for weight, view in zip(contrast.weights, views, strict=True)
    )
    modes, base_modes = [], []
    for k, (view, (_, rise_modes)) in enumerate(zip(views, rises, strict=True)):
        shift = _error_weight(exposure.weights[k], shares[k]) * view.place_modes
        lift = _error_weight(base.weights[k], base_shares[k]) * view.curve.base_modes
        stretch = _error_weight(contrast.weights[k], shares[k])
        modes.append(stretch * rise_modes + lift[:, None] - shift[:, None] * gradient)
        base_modes.append(lift)
    across = {
        "exposure": (-gradient * _between(exposure), 0.0),
        "contrast": (rise * _between(contrast), 0.0),
        "base": (np.full(GRID_COUNT, _between(base)), _between(base)),
    }
    modes.append(np.stack([mode for mode, _ in across.values()]))
    base_modes.append(np.array([lift for _, lift in across.values()]))
    modes, base_modes = _compressed(np.concatenate(modes), np.concatenate(base_modes))
    half = NORMAL_95 * np.sqrt((modes**2).sum(axis=0))
    return Curve(
        log_exposure=np.round(grid, CURVE_DIGITS),
        density=np.round(density, CURVE_DIGITS),
        low=np.round(density - half, CURVE_DIGITS),
        high=np.round(density + half, CURVE_DIGITS),
        gradient=np.round(gradient, CURVE_DIGITS),
        modes=np.round(modes, MODE_DIGITS),
        base=round(float(base.mean), CURVE_DIGITS),
        base_modes=np.round(base_modes, MODE_DIGITS),
    )


def _either(one: float, other: float) -> float:
    """Share that comes from one of two causes, the second being a share of what the first leaves."""
    return one + other - one * other


def _error_weight(weight, share):
    """Factor on a roll's error: its weight, but for the share of the variance common to all rolls."""
    return float(np.sqrt(weight**2 * (1.0 - share) + weight * share))


def _between(effects: RandomEffects):
    """Standard error of the mean that comes from the spread between rolls."""
    return effects.spread * float(np.sqrt(np.sum(effects.weights**2)))


def _compressed(modes, base_modes):
    """The same covariance in fewer modes: singular vectors of curve and base together."""
    joint = np.concatenate([modes, base_modes[:, None]], axis=1)
    _, values, vectors = np.linalg.svd(joint, full_matrices=False)
    kept = (values[:, None] * vectors)[:MODE_COUNT]
    return kept[:, :-1], kept[:, -1]


def _rows_of(curve: Curve) -> GriddedCurves:
    spacing = (curve.log_exposure[-1] - curve.log_exposure[0]) / (len(curve.log_exposure) - 1)
    slope_modes = np.gradient(curve.modes, spacing, axis=1)
    each = np.ones(ROWS_PER_CURVE)
    return GriddedCurves(
        origin=curve.log_exposure[0] * each,
        spacing=spacing * each,
        density=with_draws(curve.density[None], curve.modes[None])[0],
        gradient=with_draws(curve.gradient[None], slope_modes[None])[0],
        base=with_draws(np.array([[curve.base]]), curve.base_modes[None, :, None]).ravel(),
        low=curve.log_exposure[0] * each,
        high=curve.log_exposure[-1] * each,
    )


def _steps(analyses, curve):
    """Steps of the first roll within the pooled range: where the straight part is looked for."""
    points = analyses[0].points
    inside = (points.log_exposure >= curve.log_exposure[0]) & (points.log_exposure <= curve.log_exposure[-1])
    return points.log_exposure[inside & ~points.is_flagged]


def _pooled_base(bases, shares):
    errors = [measure.standard_error for measure in bases]
    pooled = pool_random_effects([measure.value for measure in bases], errors, BASE_SCALE)
    common = sum(w * s * e**2 for w, s, e in zip(pooled.weights, shares, errors, strict=True))
    half = NORMAL_95 * (
        float(np.hypot(pooled.standard_error, np.sqrt(common))) if common else pooled.standard_error
    )
    ends = (round(end, MODE_DIGITS) for end in (pooled.mean, pooled.mean - half, pooled.mean + half))
    return Measure("base_plus_fog", *ends, "D", None, f"mean of {len(bases)} rolls")


def _points(analyses, curve):
    parts = [analysis.points for analysis in analyses]
    exposure = np.concatenate([points.log_exposure for points in parts])
    density = np.concatenate([points.density for points in parts])
    return Points(
        log_exposure=exposure,
        density=density,
        residual=np.round(density - interpolate(curve, curve.density, exposure), CURVE_DIGITS),
        count=np.concatenate([points.count for points in parts]),
        step=np.concatenate([points.step for points in parts]),
        is_flagged=np.concatenate([points.is_flagged for points in parts]),
    )


def _correction_flags(analyses):
    titles = [title for each in analyses for title in each.corrected_by]
    if not titles:
        return ()
    rolls = sum(bool(each.corrected_by) for each in analyses)
    text = f"{rolls} of {len(analyses)} rolls have readings corrected by {', '.join(dict.fromkeys(titles))}."
    return (Flag("CORRECTED", text),)


def _pool_flags(count, exposure, contrast):
    flags = []
    if count <= 3:
        text = f"{count} rolls: the spread from roll to roll is itself very uncertain."
        flags.append(Flag("FEW_ROLLS", text))
    if min(exposure.p_value, contrast.p_value) < DIFFER_LEVEL:
        stops = exposure.spread / np.log10(2.0)
        text = f"The rolls differ by more than reading noise: {stops:.2f} stop, {100 * contrast.spread:.0f} %"
        flags.append(Flag("ROLLS_DIFFER", text + " in contrast."))
    return tuple(flags)
