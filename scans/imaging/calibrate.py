"""Calibrating a scanner: from the read steps of a calibrated tablet to densities that may be trusted.

A calibration belongs to one scanner with one set of settings. Without one that is valid for a scan, the
scan yields no densities.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass, field

import numpy as np

from scans.imaging.calibrate_response import Response, fit_response
from scans.imaging.measures import Flag, ImagingError, Measure, Refusal, withheld

FEWEST_STEPS = 10
LARGEST_RMS, LARGEST_RESIDUAL = 0.02, 0.05
"""Scatter about the response beyond which a calibration is refused [density]; a house choice."""
OUTLYING = 4.0
MOST_LEFT_OUT = 2
NEARLY_WHITE = 0.998
DEFAULT_CERTIFICATE_ERROR = 0.01
DEFAULT_VALID_DAYS = 30


@dataclass(frozen=True)
class ScannerSetup:
    """A scanner with the settings that bear on its response.

    Parameters
    ----------
    scanner : str
        Which machine; empty when not known.
    settings : dict of str to str
        Such as resolution, bit depth, colour profile, light source, holder.
    """

    scanner: str
    settings: dict[str, str] = field(default_factory=dict)

    def mismatch(self, other: ScannerSetup) -> Refusal | None:
        """Why a calibration of this set-up is of no use for the other one; None when it is."""
        if _plain(self.scanner) != _plain(other.scanner):
            ours, theirs = self.scanner or "an unnamed scanner", other.scanner or "an unnamed scanner"
            return Refusal("OTHER_SCANNER", f"The calibration is of {ours}, the scan of {theirs}.")
        ours, theirs = _plain_settings(self.settings), _plain_settings(other.settings)
        different = sorted(
            name for name in ours.keys() | theirs.keys() if ours.get(name, "") != theirs.get(name, "")
        )
        if different:
            names = ", ".join(name.replace("_", " ") for name in different)
            return Refusal("OTHER_SETTINGS", f"The calibration was made with other settings: {names}.")
        return None


def _plain(text: str) -> str:
    return " ".join(str(text).split()).casefold()


def _plain_settings(settings: dict) -> dict:
    return {_plain(name): _plain(value) for name, value in settings.items() if _plain(value)}


@dataclass(frozen=True)
class StepLevels:
    """What was read on the steps of a tablet.

    Parameters
    ----------
    level, standard_error, spread : array_like, shape (n,) [level]
        Mean level of each step, the standard error of that mean, and the standard deviation of its pixels.
    """

    level: np.ndarray
    standard_error: np.ndarray
    spread: np.ndarray

    def __post_init__(self):
        arrays = [np.asarray(each, float) for each in (self.level, self.standard_error, self.spread)]
        if len({each.shape for each in arrays}) != 1 or arrays[0].ndim != 1:
            raise ImagingError("UNEQUAL_LENGTHS", "Give one level, error and spread for each step.")
        for name, each in zip(("level", "standard_error", "spread"), arrays, strict=True):
            object.__setattr__(self, name, each)


@dataclass(frozen=True)
class Calibration:
    """A scanner's response with what it rests on.

    Parameters
    ----------
    setup : ScannerSetup
    response : Response
    made_on : datetime.date
    valid_days : int
        Days after which it expires [days].
    tablet : str
        Name of the tablet.
    density, residual : ndarray, shape (n,) [density]
        Calibrated density of each step, and how far it lies above the curve; NaN for a step left out.
    usable_high : Measure
        Density at which the scanner's signal for a change of density falls to its noise, pixel by pixel.
    flags : tuple of Flag
    """

    setup: ScannerSetup
    response: Response
    made_on: datetime.date
    valid_days: int
    tablet: str
    density: np.ndarray
    residual: np.ndarray
    usable_high: Measure
    flags: tuple[Flag, ...] = ()

    @property
    def lowest_density(self) -> float:
        """Density of the lightest step used, scalar [density]."""
        return float(self.response.density[-1])

    @property
    def highest_density(self) -> float:
        """Density of the densest step used, scalar [density]."""
        return float(self.response.density[0])

    @property
    def residual_rms(self) -> float:
        """Scatter of the steps about the curve, scalar [density]."""
        return float(np.sqrt(np.nanmean(self.residual**2)))

    def refusal_for(self, setup: ScannerSetup, on: datetime.date) -> Refusal | None:
        """Why densities of a scan of that set-up on that day may not be read with it; None when they may."""
        mismatch = self.setup.mismatch(setup)
        if mismatch is not None:
            return mismatch
        age = (on - self.made_on).days
        if not 0 <= age <= self.valid_days:
            text = f"The calibration of {self.made_on.isoformat()} is valid for {self.valid_days} days."
            return Refusal("EXPIRED", text)
        return None


def calibrate(
    steps: StepLevels,
    density,
    *,
    setup: ScannerSetup,
    made_on: datetime.date,
    white_level: int = 65535,
    certificate_error: float = DEFAULT_CERTIFICATE_ERROR,
    dark_level: float | None = None,
    tablet: str = "",
    valid_days: int = DEFAULT_VALID_DAYS,
) -> Calibration | Refusal:
    """Calibrate a scanner by a tablet.

    Parameters
    ----------
    steps : StepLevels
        As read, from the lightest to the densest step.
    density : array_like, shape (n,) [density]
        Calibrated densities of the same steps.
    setup : ScannerSetup
    made_on : datetime.date
    white_level : int
        The highest level that a sample can have [level].
    certificate_error : float
        Standard error of each calibrated density [density].
    dark_level : float, optional
        Level of a scan without light, or of an opaque part [level]; taken as 0 and flagged when not given.
    tablet : str
    valid_days : int
        [days]

    Returns
    -------
    Calibration or Refusal
    """
    density = np.asarray(density, float)
    if density.shape != steps.level.shape:
        raise ImagingError("UNEQUAL_LENGTHS", "Give one calibrated density for each step that was read.")
    if not (np.isfinite(density).all() and certificate_error > 0):
        raise ImagingError("BAD_CERTIFICATE", "Densities and their error must be finite, the error above 0.")
    dark = 0.0 if dark_level is None else float(dark_level)
    flags = [] if dark_level is not None else [Flag("DARK_NOT_MEASURED", "The dark level is taken as 0.")]
    usable, dropped = _usable_steps(steps, white_level, dark)
    flags += dropped
    fitted = _fit_leaving_out(steps, density, usable, dark, certificate_error)
    if isinstance(fitted, Refusal):
        return fitted
    response, residual, outlying = fitted
    flags += outlying
    if response.departure_odds > 1:
        text = f"Odds of {response.departure_odds:.3g} to 1 for a departure from gain, flare and gamma."
        flags.append(Flag("RESPONSE_DEPARTS", text))
    used = np.isfinite(residual)
    return Calibration(
        setup=setup,
        response=response,
        made_on=made_on,
        valid_days=valid_days,
        tablet=tablet,
        density=density,
        residual=residual,
        usable_high=_usable_high(response, steps.level[used], steps.spread[used]),
        flags=tuple(flags),
    )


def _usable_steps(steps: StepLevels, white_level: int, dark: float):
    white = steps.level >= NEARLY_WHITE * white_level
    usable = np.isfinite(steps.level) & ~white & (steps.level > dark)
    flags = []
    for index in np.flatnonzero(~usable):
        why = "it is saturated" if white[index] else "no light comes through it"
        flags.append(Flag("STEP_LEFT_OUT", f"Step {index + 1} was left out: {why}."))
    return usable, flags


def _fit_leaving_out(steps, density, usable, dark, certificate_error):
    """The response, the residuals by step, and a flag for each step that lay too far off."""
    usable, flags = usable.copy(), []
    while True:
        if usable.sum() < FEWEST_STEPS:
            text = f"Only {usable.sum()} steps can be used; at least {FEWEST_STEPS} are needed."
            return Refusal("TOO_FEW_STEPS", text)
        level = steps.level[usable]
        if np.any(np.diff(density[usable]) <= 0) or np.any(np.diff(level) >= 0):
            text = "The levels do not fall steadily as the densities rise; check the order of the steps."
            return Refusal("NON_MONOTONE", text)
        error = np.hypot(certificate_error, _reading_error(steps, density, usable))
        response, residual = fit_response(level, density[usable], error, dark)
        worst = int(np.argmax(np.abs(residual) / error))
        studentised = np.abs(residual[worst]) / error[worst]
        if studentised < OUTLYING or len(flags) == MOST_LEFT_OUT:
            break
        step = int(np.flatnonzero(usable)[worst])
        usable[step] = False
        text = f"Step {step + 1} was left out: it lies {residual[worst]:+.3f} D off the others' curve."
        flags.append(Flag("STEP_LEFT_OUT", text))
    rms, largest = np.sqrt(np.mean(residual**2)), np.abs(residual).max()
    most_rms, most = max(LARGEST_RMS, 2 * certificate_error), max(LARGEST_RESIDUAL, 5 * certificate_error)
    if rms > most_rms or largest > most:
        text = f"The steps scatter by {rms:.3f} D (worst {largest:.3f}) about any smooth response."
        return Refusal("POOR_FIT", text)
    by_step = np.full(density.size, np.nan)
    by_step[usable] = residual
    return response, by_step, flags


def _reading_error(steps, density, usable) -> np.ndarray:
    """Error of each usable step's level, as density by the local slope, shape (k,) [density]."""
    slope = np.gradient(density[usable], steps.level[usable])
    return np.abs(slope) * steps.standard_error[usable]


def _usable_high(response: Response, level, spread) -> Measure:
    """Density where T dL/dT, the level's change for a relative change of light, falls to the noise.

    References
    ----------
    ISO 21550:2004 uses the incremental signal-to-noise ratio; the criterion 1 is from memory.
    """
    name, unit = "usable_density_high", "density"
    note = "incremental signal to noise of one pixel falls to 1; the tablet's own grain counts as noise"
    density, _ = response.density_at(level)
    slope = -np.interp(level, response.level, np.gradient(response.level, response.density))
    ratio = slope / np.log(10) / np.maximum(spread, 1e-9)
    below = np.flatnonzero(ratio < 1)
    top = float(response.density[0])
    if below.size == 0:
        return Measure(name, top, low=top, unit=unit, note="at least the densest step; " + note)
    first = int(below[0])
    if first == 0:
        return withheld(name, "NOISE_DOMINATES", unit)
    logs = np.log(ratio[[first, first - 1]])
    share = -logs[0] / (logs[1] - logs[0])
    value = float(density[first] + share * (density[first - 1] - density[first]))
    return Measure(
        name, value, low=float(density[first - 1]), high=float(density[first]), unit=unit, note=note
    )


@dataclass(frozen=True)
class Drift:
    """How far a scanner has moved from one calibration to the next.

    Parameters
    ----------
    density : ndarray, shape (m,) [density]
        Where it is given: densities of the earlier calibration.
    shift : ndarray, shape (m,) [density]
        What the later calibration reads at the same level, less the earlier.
    largest : float
        Largest shift by size, with its sign [density].
    rms : float
        [density]
    """

    density: np.ndarray
    shift: np.ndarray
    largest: float
    rms: float


def drift_between(earlier: Calibration, later: Calibration) -> Drift | Refusal:
    """How far a scanner has moved, over the range of levels that both calibrations cover.

    With the same tablet the errors of its certificate are in both calibrations and cancel.

    Parameters
    ----------
    earlier, later : Calibration
        Of the same scanner with the same settings.

    Returns
    -------
    Drift or Refusal
    """
    mismatch = earlier.setup.mismatch(later.setup)
    if mismatch is not None:
        return mismatch
    density = np.arange(0.1, 4.0, 0.1)
    level = earlier.response.level_at(density)
    now, _ = later.response.density_at(level)
    both = np.isfinite(now)
    if both.sum() < 3:
        return Refusal("NOT_REACHED", "The two calibrations share no range of levels.")
    shift = now[both] - density[both]
    return Drift(
        density=density[both],
        shift=shift,
        largest=float(shift[np.argmax(np.abs(shift))]),
        rms=float(np.sqrt(np.mean(shift**2))),
    )
