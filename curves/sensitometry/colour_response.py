"""Colour response from photographed patches, each read through the film's own curve.

A coloured patch and a grey of the same luminance would give the eye the same brightness; how much more or
less exposure the film took from the patch is its shift from grey. Densities are turned into exposures
through that film's own curve first, so contrast does not pass for colour. Patches in the toe or the
shoulder are withheld. Results belong to one light: tungsten and daylight are separate series.

References
----------
Method: derived from the definition of the characteristic curve; the least slope share is this lab's
choice.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from curves.sensitometry.intervals import is_usable, measure_with_error, measure_with_log_error
from curves.sensitometry.measures import Measure, SensitometryError, withheld
from curves.sensitometry.sampled_curve import SampledCurve
from curves.sensitometry.speed_scale import STOP

LEAST_SLOPE_SHARE = 0.2  # of the curve's greatest slope; flatter is toe or shoulder


@dataclass(frozen=True, slots=True)
class Patch:
    """A patch of the target as read from the negative.

    Parameters
    ----------
    name : str
        Name of the patch.
    luminance_factor : float, scalar [share of a perfect white]
        Y of the patch under the light that was used.
    density : float, scalar [D]
        Density in the negative, gross or net as the curve is.
    density_sd : float, scalar [D]
        Standard error of the reading.
    """

    name: str
    luminance_factor: float
    density: float
    density_sd: float = 0.0


def _placed(curve: SampledCurve, density: float, density_sd: float, share: float):
    """Exposure of a density, its reading error, and the curve's error there; or the reason for none."""
    if not is_usable(density, density_sd):
        return "INVALID_INPUT"
    x = float(curve.exposure_at(density))
    if not math.isfinite(x):
        return "IN_SHOULDER" if density > curve.density[-1] else "IN_TOE"
    slope = float(curve.gradient_at(x))
    if slope < share * curve.steepest or slope <= 0:
        return "IN_TOE" if x < curve.log_exposure[int(np.argmax(curve.gradient))] else "IN_SHOULDER"
    return x, density_sd / slope, curve.error_at(x)[:, 0] / slope


def patch_shifts(
    curve: SampledCurve,
    patches: list[Patch],
    greys: list[Patch],
    least_slope_share: float = LEAST_SLOPE_SHARE,
) -> dict[str, Measure]:
    """Shift of every patch from a grey of its luminance, through the film's own curve.

    Parameters
    ----------
    curve : SampledCurve
        Density against exposure [D against log10 lx s] under the same light; the exposure may be relative.
    patches : list of Patch, shape (n,)
        Coloured patches.
    greys : list of Patch, shape (k,)
        Grey patches of the same frame; together they say what exposure a luminance gets.
    least_slope_share : float, scalar [share of the greatest slope]
        Patches where the curve is flatter are withheld.

    Returns
    -------
    dict of str to Measure
        By patch name, ``colour_shift`` [stop], positive where the film is more sensitive to the colour
        than to grey. ``IN_TOE``, ``IN_SHOULDER`` or ``INVALID_INPUT`` where it cannot be read; all with
        the greys' reason when no grey can.

    Raises
    ------
    SensitometryError
        When two patches share a name or no grey is given.

    Notes
    -----
    ``shift = F^-1(D_patch) - x_grey - log Y_patch`` with ``x_grey`` the mean of ``F^-1(D) - log Y`` over
    the greys. Its error holds the readings of patch and greys; the curve's own error, common to both,
    cancels as far as they lie near each other.
    """
    if not greys:
        raise SensitometryError("NO_GREY", "Give at least one grey patch of the same frame.")
    if len({patch.name for patch in patches}) < len(patches):
        raise SensitometryError("SAME_NAME", "Two patches have the same name.")
    anchors = [_anchored(curve, grey, least_slope_share) for grey in greys]
    usable = [anchor for anchor in anchors if not isinstance(anchor, str)]
    if not usable:
        note = "no grey patch can be read"
        return {patch.name: withheld("colour_shift", anchors[0], "stop", note) for patch in patches}
    grey = float(np.mean([anchor[0] for anchor in usable]))
    grey_sd = math.sqrt(sum(anchor[1] ** 2 for anchor in usable)) / len(usable)
    grey_error = np.mean([anchor[2] for anchor in usable], axis=0)
    shifts = {}
    for patch in patches:
        placed = _anchored(curve, patch, least_slope_share)
        if isinstance(placed, str):
            shifts[patch.name] = withheld("colour_shift", placed, "stop")
            continue
        sd = math.hypot(placed[1], grey_sd, float(np.linalg.norm(placed[2] - grey_error)))
        value = (placed[0] - grey) / STOP
        shifts[patch.name] = measure_with_error("colour_shift", value, sd / STOP or None, "stop")
    return shifts


def _anchored(curve: SampledCurve, patch: Patch, share: float):
    """Exposure of a patch less its log luminance, with both errors; or the reason for none."""
    if not is_usable(patch.luminance_factor) or not 1e-6 < patch.luminance_factor < 10:
        return "INVALID_INPUT"
    placed = _placed(curve, patch.density, patch.density_sd, share)
    if isinstance(placed, str):
        return placed
    return placed[0] - math.log10(patch.luminance_factor), *placed[1:]


def shifts_from_reference(
    shifts: Mapping[str, Measure], reference: Mapping[str, Measure]
) -> dict[str, Measure]:
    """Difference of two films' colour shifts, patch by patch.

    Parameters
    ----------
    shifts, reference : mapping of str to Measure
        As from `patch_shifts` [stop], of the film and of the reference.

    Returns
    -------
    dict of str to Measure
        ``colour_shift_difference`` [stop] for every patch of either; withheld with the reason of the
        side that is withheld, ``MISSING_MEASURE`` where a patch was photographed on one film only.
    """
    name, unit = "colour_shift_difference", "stop"
    differences = {}
    for patch in dict.fromkeys([*shifts, *reference]):
        if patch not in shifts or patch not in reference:
            differences[patch] = withheld(name, "MISSING_MEASURE", unit)
            continue
        test, base = shifts[patch], reference[patch]
        reason = test.reason or base.reason
        if reason:
            differences[patch] = withheld(name, reason, unit, "" if test.reason else "in the reference")
            continue
        errors = test.standard_error, base.standard_error
        sd = None if None in errors else math.hypot(*errors)
        differences[patch] = measure_with_error(name, test.value - base.value, sd, unit)
    return differences


def filter_factor(
    curve: SampledCurve,
    density_without: float,
    density_with: float,
    added_log_exposure: float = 0.0,
    *,
    density_sd: float = 0.0,
    exposure_log_sd: float = 0.0,
) -> Measure:
    """Factor by which a filter lengthens the exposure of a patch for equal density.

    Parameters
    ----------
    curve : SampledCurve
        The film's curve under the same light [D against log10 lx s].
    density_without, density_with : float, scalars [D]
        Densities of the patch without and with the filter.
    added_log_exposure : float, scalar [log10 lx s]
        Camera exposure with the filter over that without, by true settings.
    density_sd, exposure_log_sd : float, scalars [D], [log10 lx s]
        Standard errors of each reading and of the added exposure.

    Returns
    -------
    Measure
        ``filter_factor`` [ratio]: ten to the power of the added exposure plus what the densities still lack.
    """
    if not is_usable(added_log_exposure, exposure_log_sd) or abs(added_log_exposure) > 9:
        return withheld("filter_factor", "INVALID_INPUT")
    ends = [
        _placed(curve, density, density_sd, LEAST_SLOPE_SHARE) for density in (density_without, density_with)
    ]
    for end in ends:
        if isinstance(end, str):
            return withheld("filter_factor", end)
    loss = added_log_exposure + ends[0][0] - ends[1][0]
    curve_sd = float(np.linalg.norm(ends[0][2] - ends[1][2]))
    log_sd = math.hypot(ends[0][1], ends[1][1], curve_sd, exposure_log_sd)
    return measure_with_log_error("filter_factor", 10**loss, log_sd or None)
