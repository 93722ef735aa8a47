"""Invented films of known curves for the figure tests; each is analysed once."""

from functools import cache

import numpy as np

from curves.sensitometry import Analysis, Readings, analyse_readings

STEPS = np.linspace(-3.6, 0.9, 31)


def soft_toe(x, base=0.25, gamma=0.70, s=0.20, x0=-2.6):
    """Density of the soft-toe curve B + g s ln(1 + e^((x - x0)/s)): a toe and then a straight line."""
    return base + gamma * s * np.logaddexp(0.0, (x - x0) / s)


def logistic(x, base=0.10, rise=2.0, k=2.11059099, middle=-0.70):
    """Density of the logistic curve B + R/(1 + e^(-k(x - xc))): toe, straight part and shoulder."""
    return base + rise / (1.0 + np.exp(-k * (x - middle)))


@cache
def film(number: int = 0, *, exposure: str = "absolute", has_base: bool = True) -> Analysis:
    """An S-shaped film, read with noise 0.006 to 0.01; the number moves its speed, contrast and base."""
    base = 0.10 + 0.02 * number
    true = logistic(STEPS, base=base, rise=1.8 + 0.1 * number, middle=-0.7 - 0.05 * number)
    read = np.round(true + np.random.default_rng(number).normal(0.0, 0.006, len(STEPS)), 2)
    steps = np.arange(1, len(STEPS) + 1)
    unexposed = [base, base] if has_base else []
    return analyse_readings(Readings(STEPS, read, unexposed, step=steps, exposure=exposure))


@cache
def straight_film() -> Analysis:
    """A soft-toe film without noise that never shoulders; one step is a slip."""
    density = soft_toe(STEPS)
    density[12] += 0.4
    return analyse_readings(Readings(STEPS, density, [0.25, 0.25], step=np.arange(1, 32)))


@cache
def hopeless_film() -> Analysis:
    """Three steps only: no curve can be drawn."""
    return analyse_readings(Readings([-2.0, -1.0, 0.0], [0.2, 0.6, 1.2], [0.1]))


def traces(figure, role):
    """The traces of a figure with a role."""
    return [trace for trace in figure["data"] if trace["meta"]["role"] == role]
