"""Synthetic stocks of known curve: the truths that the accuracy studies try to recover.

None of them is the engine's own form except the family "soft", which is close to it. Every truth gives
its density as a plain function; what its measures are is worked out here by root finding on that
function (scipy's brentq), never by the engine's own code. Exposures count from the first step.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq
from scipy.special import ndtr

STEP_SPACING = 0.15
STEP_COUNT = 21
STEPS = STEP_SPACING * np.arange(STEP_COUNT)

SMOOTH = tuple(f"{family}-{toe}-{shoulder}" for family in ("soft", "normal", "parabolic")
               for toe in ("short", "long") for shoulder in ("in", "out"))  # fmt: skip
HARD = ("arc-s", "arc-g", "arc-up", "double", "solarised", "truncated")


@dataclass(frozen=True)
class Truth:
    """A curve of known shape: base plus fog [D] and net density as a function of log exposure."""

    kind: str
    base: float
    net: Callable[[np.ndarray], np.ndarray]
    upper: float = 3.0

    def density(self, log_exposure):
        return self.base + self.net(np.asarray(log_exposure, dtype=float))

    @property
    def speed_point(self) -> float:
        return brentq(lambda x: float(self.net(x)) - 0.10, -2.5, self.upper)

    def average_gradient(self, span: float) -> float:
        start = self.speed_point
        return float(self.net(start + span) - self.net(start)) / span

    @property
    def contrast_index(self) -> float:
        """The two-mark construction: marks 0.2 and 2.2 from a point of the base line, both on the curve."""

        def excess(angle):
            inner, outer = (self._exposure_at(mark * np.sin(angle)) for mark in (0.2, 2.2))
            return outer - inner - 2.0 * np.cos(angle)

        top = float(self.net(self._end))
        limit = np.arcsin(min(0.999, 0.98 * top / 2.2))
        return float(np.tan(brentq(excess, 0.10, limit)))

    def _exposure_at(self, net_density):
        return brentq(lambda x: float(self.net(x)) - net_density, -3.0, self._end)

    @property
    def _end(self):
        return self.upper if self.kind == "solarised" else 4.5


def readings_of(truth, rng, *, sd=0.015, strips=1, unexposed=1, rounding=0.01, steps=STEPS):
    """Exposures, densities (one row a strip) and unexposed readings, with noise and rounding."""
    density = truth.density(steps) + sd * rng.standard_normal((strips, len(steps)))
    base = truth.base + sd * rng.standard_normal(unexposed)
    if rounding:
        density, base = np.round(density / rounding) * rounding, np.round(base / rounding) * rounding
    return steps, density, base


def draw_truth(kind: str, rng) -> Truth:
    """One random stock of the kind, its speed point where the kind wants it."""
    base = rng.uniform(0.05, 0.35)
    place = rng.uniform(-0.15, 0.10) if kind == "truncated" else rng.uniform(0.45, 0.85)
    if kind in ("arc-s", "arc-g"):
        net = _arc(kind, rng)
    elif kind == "arc-up":
        net = _rising_arc(rng)
    elif kind == "double":
        net = _double(rng)
    else:
        net = _toe_line_shoulder("any--out" if kind == "solarised" else kind, rng)
    foot = brentq(lambda x: float(net(x)) - 0.10, -3.0, 6.0)
    shift = foot - place
    moved = _moved(net, shift)
    upper = 3.0
    if kind == "solarised":
        start, width = rng.uniform(2.45, 2.7), rng.uniform(0.05, 0.12)
        slope = float(moved(start + 0.05) - moved(start - 0.05)) / 0.1 + rng.uniform(0.2, 0.5)
        moved = _falling(moved, start, width, slope)
        grid = np.linspace(0.0, 3.0, 3001)
        upper = float(grid[np.argmax(moved(grid))])
    return Truth(kind, base, moved, upper)


def _moved(net, shift):
    return lambda x: net(np.asarray(x) + shift)


def _falling(net, start, width, slope):
    return lambda x: net(x) - slope * width * _soft((np.asarray(x) - start) / width)


def _soft(u):
    return np.logaddexp(0.0, u)


def _normal(u):
    """Integral of the normal distribution function."""
    return u * ndtr(u) + np.exp(-0.5 * u * u) / np.sqrt(2 * np.pi)


def _parabolic(u):
    """Integral of a straight ramp from 0 at -1 to 1 at 1."""
    inside = np.clip(u, -1.0, 1.0)
    return 0.25 * (inside + 1.0) ** 2 + np.maximum(u - 1.0, 0.0)


# Widths are scaled so that the three corners are about equally soft (standard deviation of their slopes).
RAMPS = {"soft": (_soft, 1.0), "normal": (_normal, 1.7), "parabolic": (_parabolic, 2.6)}


def _toe_line_shoulder(kind, rng):
    family, toe, shoulder = (*kind.split("-"), "", "")[:3]
    if family not in RAMPS:
        family = ("soft", "normal", "parabolic")[rng.integers(3)]
    toe = toe or ("short", "long")[rng.integers(2)]
    shoulder = shoulder or ("in", "out")[rng.integers(2)]
    ramp, width = RAMPS[family]
    gamma = rng.uniform(0.5, 0.9)
    toe_width = width * (rng.uniform(0.05, 0.09) if toe == "short" else rng.uniform(0.11, 0.20))
    shoulder_width = width * rng.uniform(0.10, 0.25)
    length = rng.uniform(1.9, 2.4) if shoulder == "in" else max(2.7, rng.uniform(1.8, 2.4) / gamma)

    def net(x):
        x = np.asarray(x, dtype=float)
        return gamma * (toe_width * ramp(x / toe_width)
                        - shoulder_width * ramp((x - length) / shoulder_width))  # fmt: skip

    return net


def _arc(kind, rng):
    """Richards curves: near-logistic ("arc-s") and near-Gompertz ("arc-g"), without a straight part."""
    top = rng.uniform(1.6, 2.4)
    bend = rng.uniform(0.8, 1.5) if kind == "arc-s" else rng.uniform(0.05, 0.3)
    rate = rng.uniform(1.7, 2.4) if kind == "arc-s" else rng.uniform(1.1, 1.5)
    return lambda x: top * (1.0 + bend * np.exp(-rate * np.asarray(x))) ** (-1.0 / bend)


def _rising_arc(rng):
    """The slope rises over the whole range: as a power, as an exponential, or by steady steepening."""
    width, top = rng.uniform(0.12, 0.25), rng.uniform(1.2, 1.8)
    shape, bend = rng.integers(3), rng.random()

    ramp = RAMPS["soft" if shape == 0 else "normal"][0]

    def net(x):
        reach = width * ramp(np.asarray(x, dtype=float) / width) / 2.4
        if shape == 0:
            return top * reach ** (1.5 + 0.7 * bend)
        if shape == 1:
            rate = 1.0 + 1.5 * bend
            return top * np.expm1(rate * reach) / np.expm1(rate)
        share = 0.3 + 0.4 * bend
        return top * ((1.0 - share) * reach + share * reach**2)

    return net


def _double(rng):
    """Two straight parts of different slope, the second steeper or flatter."""
    low, high = rng.uniform(0.35, 0.5), rng.uniform(0.7, 0.95)
    first, second = (low, high) if rng.random() < 0.5 else (high, low)
    toe_width, break_width, place = rng.uniform(0.08, 0.15), rng.uniform(0.06, 0.12), rng.uniform(0.9, 1.4)

    def net(x):
        x = np.asarray(x, dtype=float)
        return (first * toe_width * _soft(x / toe_width)
                + (second - first) * break_width * _soft((x - place) / break_width))  # fmt: skip

    return net
