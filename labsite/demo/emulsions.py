"""Invented emulsions: closed-form characteristic curves that are not the engine's own model.

Toe and shoulder are integrals of normal distributions (the gradient rises and falls as a normal
cumulative function), an arc is a Richards curve; so the fitted curves of the demo lab are honest fits
of something else, with the residuals that real films would leave.
"""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq
from scipy.special import ndtr


@dataclass(frozen=True)
class Emulsion:
    """The truth about one invented stock.

    ``speed_log_h`` is the log exposure (log₁₀ lux·s) at 0.10 above base plus fog, ``gradient`` the
    slope of the straight part, ``toe`` and ``shoulder`` the widths of the bends (log exposure), and
    ``reach`` the log exposure from the speed point to the middle of the shoulder.
    """

    base_fog: float
    speed_log_h: float
    gradient: float
    toe: float
    reach: float = 9.0
    shoulder: float = 0.5
    is_arc: bool = False


def density(
    emulsion: Emulsion, log_exposure, *, speed_shift: float = 0.0, contrast: float = 1.0
) -> np.ndarray:
    """Return gross densities of an emulsion, moved in speed (log₁₀) and stretched in contrast."""
    x = np.asarray(log_exposure, dtype=float) - emulsion.speed_log_h - speed_shift
    net = _arc(emulsion, x) if emulsion.is_arc else _bent_line(emulsion, x)
    return emulsion.base_fog + contrast * net


def _bent_line(emulsion: Emulsion, x: np.ndarray) -> np.ndarray:
    """A straight line between a toe and a shoulder, placed so that net density is 0.10 at x = 0."""
    onset = _toe_onset(emulsion)
    rise = _soft_ramp(x - onset, emulsion.toe)
    fall = _soft_ramp(x - emulsion.reach, emulsion.shoulder)
    return emulsion.gradient * (rise - fall)


def _arc(emulsion: Emulsion, x: np.ndarray) -> np.ndarray:
    """A Richards curve: its gradient changes everywhere, so it has no straight part."""
    top = emulsion.gradient * emulsion.reach
    shape = 0.35
    # The steepest slope of top·(1 + exp(−kνx))^(−1/ν) is top·k·ν·(1+ν)^(−(1+ν)/ν): make it ``gradient``.
    rate = (1.0 + shape) ** ((1.0 + shape) / shape) / (emulsion.reach * shape)
    start = np.log((top / 0.10) ** shape - 1.0) / (rate * shape)
    return top * (1.0 + np.exp(-rate * shape * (x - start))) ** (-1.0 / shape)


def _soft_ramp(x: np.ndarray, width: float) -> np.ndarray:
    """The integral of a normal cumulative function: 0 far below, x far above."""
    z = x / width
    return width * (z * ndtr(z) + np.exp(-0.5 * z * z) / np.sqrt(2.0 * np.pi))


def _toe_onset(emulsion: Emulsion) -> float:
    """Where the toe has to sit so that the net density is 0.10 at the speed point."""
    return brentq(
        lambda onset: emulsion.gradient * _soft_ramp(np.array(-onset), emulsion.toe) - 0.10, -5.0, 5.0
    )
