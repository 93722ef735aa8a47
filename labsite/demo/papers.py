"""The club's printing papers: logistic curves of invented papers, read as their densitometer shows them."""

from datetime import date, timedelta

import numpy as np

from curves.services.papers import PAPERS
from curves.services.standards import create_standard, put_in_force

#: Noise of one density of a paper's strip.
READING_SD = 0.01
#: Name, grade, log exposure of the middle (from the strip's zero), steepness, white, black.
SHEETS = (
    ("Merrow Velvet, grade 2", "grade 2", 1.25, 5.6, 0.05, 2.05),
    ("Merrow Velvet, grade 3", "grade 3", 1.30, 6.9, 0.05, 2.08),
    ("Tannery Rag, soft filter", "soft filter", 1.15, 4.4, 0.09, 1.62),
)
#: log₁₀ lux·s at the zero of the strips, known for the first paper alone.
ZERO, ZERO_SD = -0.62, 0.04


def enter_papers(*, admin, today: date, seed: int) -> None:
    """Measure three papers and put their curves in force."""
    rng = np.random.default_rng(seed)
    for name, grade, middle, rate, white, black in SHEETS:
        is_first = name == SHEETS[0][0]
        draft = create_standard(
            kind=PAPERS,
            actor=admin,
            name=name,
            about="Dried flat, read the next day.",
            grade=grade,
            developer="Lantern print developer, 1 + 9, 90 s at 20 °C",
            measured_on=today - timedelta(days=120),
            source="Strip of 21 steps, reflection densitometer of the print room",
            density_sd=READING_SD,
            base_plus_fog=white,
            log_exposure_zero=ZERO if is_first else None,
            log_exposure_sd=ZERO_SD if is_first else 0.0,
            points=_points(rng, middle, rate, white, black),
        )
        put_in_force(kind=PAPERS, actor=admin, revision_id=draft.pk)


def _points(rng, middle: float, rate: float, white: float, black: float) -> list[list[float]]:
    x = np.arange(0.0, 3.01, 0.15)
    truth = white + (black - white) / (1 + np.exp(-rate * (x - middle)))
    shown = np.round(truth + rng.normal(0.0, READING_SD, x.size), 2)
    return [[round(float(a), 2), float(b)] for a, b in zip(x, shown, strict=True)]
