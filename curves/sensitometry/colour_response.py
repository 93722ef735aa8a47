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
from collections.abc import Mapping, Sequence
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


def _placed(curve: SampledCurve, readings: Sequence[tuple[float, float]], share: float) -> list:
    """Exposure of each density, its reading error, and the curve's error there; or the reason for none."""
    densities = [density if is_usable(density, sd) else math.nan for density, sd in readings]
    places = curve.exposure_at(densities)
    slopes, errors = curve.gradient_at(places), curve.error_at(places)
    least, middle = share * curve.steepest, curve.log_exposure[int(np.argmax(curve.gradient))]
    found = []
    for density, (_, sd), x, slope, error in zip(densities, readings, places, slopes, errors.T, strict=True):
        if math.isnan(density):
            found.append("INVALID_INPUT")
        elif not math.isfinite(x):
            found.append("IN_SHOULDER" if density > curve.density[-1] else "IN_TOE")
        elif slope < least or slope <= 0:
            found.append("IN_TOE" if x < middle else "IN_SHOULDER")
        else:
            found.append((float(x), sd / float(slope), error / slope))
    return found


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
    placed = _anchored(curve, [*greys, *patches], least_slope_share)
    anchors = placed[: len(greys)]
    usable = [anchor for anchor in anchors if not isinstance(anchor, str)]
    if not usable:
        note = "no grey patch can be read"
        return {patch.name: withheld("colour_shift", anchors[0], "stop", note) for patch in patches}
    grey = float(np.mean([anchor[0] for anchor in usable]))
    grey_sd = math.sqrt(sum(anchor[1] ** 2 for anchor in usable)) / len(usable)
    grey_error = np.mean([anchor[2] for anchor in usable], axis=0)
    shifts = {}
    for patch, own in zip(patches, placed[len(greys) :], strict=True):
        if isinstance(own, str):
            shifts[patch.name] = withheld("colour_shift", own, "stop")
            continue
        sd = math.hypot(own[1], grey_sd, float(np.linalg.norm(own[2] - grey_error)))
        value = (own[0] - grey) / STOP
        shifts[patch.name] = measure_with_error("colour_shift", value, sd / STOP or None, "stop")
    return shifts


def _anchored(curve: SampledCurve, patches: Sequence[Patch], share: float) -> list:
    """Exposure of each patch less its log luminance, with both errors; or the reason for none."""
    found = _placed(curve, [(patch.density, patch.density_sd) for patch in patches], share)
    for at, patch in enumerate(patches):
        if not is_usable(patch.luminance_factor) or not 1e-6 < patch.luminance_factor < 10:
            found[at] = "INVALID_INPUT"
        elif not isinstance(found[at], str):
            found[at] = found[at][0] - math.log10(patch.luminance_factor), *found[at][1:]
    return found


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
    readings = [(density, density_sd) for density in (density_without, density_with)]
    ends = _placed(curve, readings, LEAST_SLOPE_SHARE)
    for end in ends:
        if isinstance(end, str):
            return withheld("filter_factor", end)
    loss = added_log_exposure + ends[0][0] - ends[1][0]
    curve_sd = float(np.linalg.norm(ends[0][2] - ends[1][2]))
    log_sd = math.hypot(ends[0][1], ends[1][1], curve_sd, exposure_log_sd)
    return measure_with_log_error("filter_factor", 10**loss, log_sd or None)
