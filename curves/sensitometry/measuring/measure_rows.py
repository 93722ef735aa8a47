"""All measures of all curves and draws of a batch, as rows of numbers, before any reason is given."""

from dataclasses import dataclass

import numpy as np

from curves.sensitometry.fitting.gridded_curves import GriddedCurves
from curves.sensitometry.measuring import contrast_indices, curve_shape, speed_points


@dataclass(frozen=True, slots=True)
class MeasureRows:
    """Numbers read off each curve: shape (b, 1 + d), best estimate first; NaN where it is not there.

    Parameters
    ----------
    values : dict of str to ndarray, shape (b, 1 + d)
        By measure name, or by a construction's name, in the unit of the registry.
    crossings : ndarray of int, shape (b,) [1]
        How often the best curve crosses the speed criterion upwards.
    runs : list of (int, int) or None, length b
        First and last step of the straight part among the steps used.
    """

    values: dict[str, np.ndarray]
    crossings: np.ndarray
    runs: list


def read_rows(curves: GriddedCurves, steps: list[np.ndarray]) -> MeasureRows:
    """Read every measure off every row.

    Parameters
    ----------
    curves : GriddedCurves
        Rows of b curves, each followed by its draws, shape (k, g) [D].
    steps : list of ndarray, each shape (s,) [log10 lx s]
        Exposures of the steps used of each of the b curves.

    Returns
    -------
    MeasureRows
        Arrays of shape (b, 1 + d).
    """
    each = len(curves.base) // len(steps)
    is_best = np.arange(len(curves.base)) % each == 0
    values = _speed_rows(curves)
    values |= _contrast_rows(curves, values["speed_point_log_exposure"], is_best)
    runs, straight = _straight_rows(curves, steps, is_best, each)
    values |= straight
    values |= _shape_rows(curves, values, is_best)
    crossings = values.pop("crossings")[is_best].astype(int)
    shaped = {name: rows.reshape(len(steps), each) for name, rows in values.items()}
    return MeasureRows(shaped, crossings, runs)


def _speed_rows(curves):
    place, crossings = speed_points.speed_point(curves)
    pair = speed_points.contrast_pair(curves, place)
    _, slope = curves.density_and_gradient_at(place)
    return {
        "crossings": crossings,
        "first_excess": curves.density[:, 0] - curves.base - speed_points.SPEED_DENSITY,
        "speed_point_log_exposure": place,
        "delta_d_130": pair,
        "gradient_130": pair / speed_points.CONTRAST_SPAN,
        "delta_x_log_speed": speed_points.delta_x_log_speed(place, pair),
        "fractional_gradient_log_exposure": speed_points.fractional_gradient_point(curves, place),
        "speed_point_gradient": slope,
    }


def _contrast_rows(curves, place, is_best):
    index, inner, outer = contrast_indices.contrast_index(curves, is_best)
    return {
        "average_gradient_150": contrast_indices.average_gradient(curves, place, 1.5),
        "arc_gradient_150": contrast_indices.arc_gradient(curves, place),
        "toe_chord_gradient": contrast_indices.average_gradient(curves, place, 0.4),
        "contrast_index": index,
        "inner_mark": inner,
        "outer_mark": outer,
        "highlight_gradient": curve_shape.highlight_gradient(curves, place),
    }


def _straight_rows(curves, steps, is_best, each):
    """Gamma of each row over the run of steps that the best estimate is straight on."""
    best = curves.rows(is_best)
    width = max(len(step) for step in steps)
    padded = np.full((len(steps), width), np.nan)
    for number, step in enumerate(steps):
        padded[number, : len(step)] = step
    fitted = np.stack([best.density_at(column) for column in padded.T], axis=1)
    runs = []
    chosen = np.full((len(steps), each, width), np.nan)
    for number, step in enumerate(steps):
        run = curve_shape.straight_run(step, fitted[number, : len(step)])
        runs.append(run)
        if run:
            chosen[number, :, : len(step)] = _runs_of_draws(step, run, each)
    slope = curve_shape.line_slope(curves, chosen.reshape(-1, width))
    pairs = zip(steps, runs, strict=True)
    anchor = np.array([0.5 * (step[run[0]] + step[run[1]]) if run else np.nan for step, run in pairs])
    return runs, {"gamma": slope, "anchor": np.repeat(anchor, each)}


def _runs_of_draws(step, run, each):
    """The run for the best estimate, and for the draws in turn the run and those a step shorter or longer.

    Which steps count as straight is itself uncertain by about a step at each end; so is gamma, then.
    """
    place = np.arange(len(step))
    ends = [run, (run[0] + 1, run[1]), (run[0], run[1] - 1), (run[0] - 1, run[1]), (run[0], run[1] + 1)]
    if run[1] - run[0] < curve_shape.STRAIGHT_STEPS:
        ends[1:3] = [run, run]
    turn = np.arange(each) % len(ends)
    first, last = np.array(ends)[turn].T
    is_inside = (place >= first[:, None]) & (place <= last[:, None])
    return np.where(is_inside, step, np.nan)


def _shape_rows(curves, values, is_best):
    place, gamma, anchor = values["speed_point_log_exposure"], values["gamma"], values["anchor"]
    is_straight = np.isfinite(anchor)
    middle = np.where(is_straight, anchor, 0.5 * (curves.low + curves.high))
    enough = np.where(is_straight, curve_shape.STRAIGHT_SHARE * gamma, np.inf)
    start, end = curves.gradient_edges(enough, middle)
    start, end = np.where(is_straight, start, np.nan), np.where(is_straight, end, np.nan)
    last = curve_shape.useful_end(curves, values["average_gradient_150"], middle)
    top = curves.density[:, slice(*curves.inside)][:, -1]
    top_slope = curves.gradient[:, slice(*curves.inside)][:, -1]
    return {
        "straight_part_start": start,
        "straight_part_end": end,
        "straight_extent": end - start,
        "toe_length": np.maximum(start - place, 0.0),
        "toe_shape": values["speed_point_gradient"] / gamma,
        "shoulder_onset": end,
        "useful_end": last,
        "useful_range": last - place,
        "d_max": top,
        "d_max_gradient": top_slope,
        "maximum_gradient": curve_shape.steepest_gradient(curves, is_best),
    }
