"""Subject, negative and print together: the four quadrants of tone reproduction, with camera flare.

Subject luminance L is counted from the brightest tone of the subject, L = 1. Flare of the camera adds an
even veil f (a share of that tone), so exposure goes as (L + f) / (1 + f); the film's curve gives the
negative, the enlarger and its Callier factor give the paper's exposure, and the paper's curve the print.
The slope of print density over log luminance is the product of the four slopes.

References
----------
Jones, L. A., J. Franklin Inst. 190, 39 (1920), for the diagram (from memory); the same quadrants in a
cinematography journal of 2005.
"""

import math
from dataclasses import dataclass

import numpy as np

from curves.sensitometry.intervals import Z95, is_usable
from curves.sensitometry.measures import Measure, SensitometryError, withheld
from curves.sensitometry.sampled_curve import SampledCurve

FLAT_END = 0.1  # D per log10 exposure below which a paper's curve has reached its white or its black


@dataclass(frozen=True)
class ToneReproduction:
    """Each tone of the subject through all four quadrants; NaN where a curve was not measured.

    Parameters
    ----------
    log_luminance : ndarray, shape (n,) [log10 of the brightest tone]
        Subject tones, rising to 0.
    camera_log_exposure : ndarray, shape (n,) [log10 lx s]
        Exposure of the film, flare included.
    negative_density : ndarray, shape (n,) [D]
        Gross density of the negative.
    paper_log_exposure : ndarray, shape (n,) [log10 lx s]
        Exposure of the paper.
    print_density : ndarray, shape (n,) [D]
        Reflection density of the print.
    low, high : ndarray, shape (n,) [D]
        95 % interval of the print density, from the errors of both curves.
    separation : ndarray, shape (n,) [D per log10 luminance]
        By how much print density falls with subject luminance.
    separation_sd : ndarray, shape (n,) [D per log10 luminance]
        Its standard error.
    reasons : tuple of str or None, shape (n,)
        ``BELOW_RANGE`` or ``NOT_REACHED`` for tones outside the film's curve, ``OUT_OF_PAPER_RANGE``
        outside the paper's.
    """

    log_luminance: np.ndarray
    camera_log_exposure: np.ndarray
    negative_density: np.ndarray
    paper_log_exposure: np.ndarray
    print_density: np.ndarray
    low: np.ndarray
    high: np.ndarray
    separation: np.ndarray
    separation_sd: np.ndarray
    reasons: tuple[str | None, ...]


def flare_exposure(log_luminance, flare: float) -> np.ndarray:
    """Relative log exposure of subject tones under flare.

    Parameters
    ----------
    log_luminance : array_like, shape (n,) [log10 of the brightest tone]
        Subject tones.
    flare : float, scalar [share of the brightest tone]
        Even veil of light.

    Returns
    -------
    ndarray, shape (n,) [log10]
        ``log((L + f) / (1 + f))``.

    Examples
    --------
    >>> round(float(flare_exposure(-2.20, 0.01)), 4)
    -1.7919
    """
    if not is_usable(flare) or flare < 0:
        raise SensitometryError("IMPOSSIBLE_FLARE", "Flare is a share of the brightest tone, zero or more.")
    luminance = 10.0 ** np.asarray(log_luminance, dtype=float)
    return np.log10((luminance + flare) / (1 + flare))


def flare_for_range(subject_log_range: float, image_log_range: float) -> Measure:
    """Flare that shortens a subject's range to that found in the camera.

    Parameters
    ----------
    subject_log_range, image_log_range : float, scalars [log10]
        Log range of luminances, and of exposures on the film.

    Returns
    -------
    Measure
        ``flare`` [share of the brightest tone].

    Examples
    --------
    >>> round(flare_for_range(2.20, 1.80).value, 6)
    0.009693
    """
    if not is_usable(subject_log_range, image_log_range) or not 0 < image_log_range <= subject_log_range < 9:
        note = "the range in the camera must be above zero and no longer than the subject's"
        return withheld("flare", "INVALID_INPUT", note=note)
    image = 10**image_log_range
    # Equal ranges leave a rounding error of either sign where the flare is none.
    flare = max((1 - image * 10**-subject_log_range) / (image - 1), 0.0)
    return Measure("flare", flare, note="from two stated ranges")


def _paper_response(paper: SampledCurve, exposure: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Print density and slope; past an end where the paper's curve has gone flat it stays as it is there."""
    density, slope = paper.density_at(exposure), paper.gradient_at(exposure)
    x, steps = paper.log_exposure, np.diff(paper.density) / np.diff(paper.log_exposure)
    for outside, end, last_step in ((exposure < x[0], 0, steps[0]), (exposure > x[-1], -1, steps[-1])):
        if last_step < FLAT_END:
            density = np.where(outside, paper.density[end], density)
            slope = np.where(outside, 0.0, slope)
    return density, slope


def reproduce_tones(
    film: SampledCurve,
    paper: SampledCurve,
    log_luminance,
    *,
    highlight_log_exposure: float,
    print_log_exposure: float,
    flare: float = 0.0,
    callier_factor: float = 1.0,
) -> ToneReproduction:
    """Print density of each subject tone at fixed settings.

    Parameters
    ----------
    film, paper : SampledCurve
        Gross density of the negative and reflection density of the print [D against log10 lx s].
    log_luminance : array_like, shape (n,) [log10 of the brightest tone]
        Subject tones, none above 0.
    highlight_log_exposure : float, scalar [log10 lx s]
        Exposure of the film at the brightest tone.
    print_log_exposure : float, scalar [log10 lx s]
        ``log(E0 t)``, the paper's exposure without a negative.
    flare : float, scalar [share of the brightest tone]
        Camera flare.
    callier_factor : float, scalar [ratio]
        Q of the enlarger.

    Returns
    -------
    ToneReproduction
        All quadrants. A tone outside a measured curve is NaN with its reason, except that a paper whose
        curve has gone flat at an end stays at that white or black.

    Raises
    ------
    SensitometryError
        When a setting is not a number, or no tone is given.
    """
    luminance = np.unique(np.asarray(log_luminance, dtype=float))
    if luminance.size < 2 or not np.all((luminance <= 0) & (luminance > -9)):
        raise SensitometryError("BAD_TONES", "Give at least two tones between -9 and 0 log luminance.")
    if not is_usable(highlight_log_exposure, print_log_exposure, callier_factor):
        raise SensitometryError("IMPOSSIBLE_SETTING", "Exposures and the Callier factor must be numbers.")
    camera = highlight_log_exposure + flare_exposure(luminance, flare)
    negative = film.density_at(camera)
    on_paper = print_log_exposure - callier_factor * negative
    density, paper_slope = _paper_response(paper, on_paper)

    # First order: the print's error is the paper's own less what the negative's error does through it.
    film_error = -callier_factor * paper_slope * film.error_at(camera)
    paper_error = paper.error_at(on_paper)
    flare_slope = 10**luminance / (10**luminance + flare)
    separation = film.gradient_at(camera) * callier_factor * paper_slope * flare_slope
    variance, slope_variance = np.zeros(luminance.size), np.zeros(luminance.size)
    for error in (film_error, paper_error):
        if error.shape[0]:
            variance += np.sum(error**2, axis=0)
            slope_variance += np.sum(np.gradient(error, luminance, axis=1) ** 2, axis=0)
    half = Z95 * np.sqrt(variance)
    reasons = tuple(_reason(film, exposure, tone) for exposure, tone in zip(camera, density, strict=True))
    return ToneReproduction(
        luminance,
        camera,
        negative,
        on_paper,
        density,
        density - half,
        density + half,
        separation,
        np.sqrt(slope_variance),
        reasons,
    )


def _reason(film: SampledCurve, exposure: float, density: float) -> str | None:
    if np.isfinite(density):
        return None
    if exposure < film.log_exposure[0]:
        return "BELOW_RANGE"
    return "NOT_REACHED" if exposure > film.log_exposure[-1] else "OUT_OF_PAPER_RANGE"


def print_log_exposure_for_tone(
    film: SampledCurve,
    paper: SampledCurve,
    print_density: float,
    camera_log_exposure: float,
    callier_factor: float = 1.0,
) -> Measure:
    """Paper exposure without a negative that puts one film exposure at a chosen print density.

    Parameters
    ----------
    film, paper : SampledCurve
        As in `reproduce_tones`.
    print_density : float, scalar [D]
        Print density wanted.
    camera_log_exposure : float, scalar [log10 lx s]
        Film exposure of the tone to be held.
    callier_factor : float, scalar [ratio]
        Q of the enlarger.

    Returns
    -------
    Measure
        ``print_log_exposure`` [log10 lx s], without interval: it is a setting that is chosen.
    """
    name, unit = "print_log_exposure", "log10 lx s"
    if not is_usable(print_density, camera_log_exposure, callier_factor):
        return withheld(name, "INVALID_INPUT", unit)
    negative = float(film.density_at(camera_log_exposure))
    wanted = float(paper.exposure_at(print_density))
    if not math.isfinite(negative):
        return withheld(name, _reason(film, camera_log_exposure, math.nan), unit)
    if not math.isfinite(wanted):
        return withheld(name, "OUT_OF_PAPER_RANGE", unit)
    return Measure(name, wanted + callier_factor * negative, unit=unit, note="a setting, so without interval")
