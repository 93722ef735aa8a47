"""Printing papers made through their services, from a curve in closed form."""

from datetime import date

import numpy as np

from curves.models.revisions import Revision
from curves.services.papers import PAPERS
from curves.services.standards import create_standard, put_in_force

WHITE, BLACK = 0.06, 2.10
PAPER = {
    "grade": "grade 2",
    "developer": "Hearth P, 1 + 9, 90 s at 20 °C",
    "measured_on": date(2026, 4, 9),
    "source": "Lin, reflection densitometer",
    "density_sd": 0.01,
    "base_plus_fog": WHITE,
}


def logistic_points(*, middle=1.2, rate=5.5, first=0.0, last=2.4, count=17) -> list[list[float]]:
    """Points of a logistic curve between white and black: rises to within 0.01 of the black."""
    x = np.linspace(first, last, count)
    density = WHITE + (BLACK - WHITE) / (1 + np.exp(-rate * (x - middle)))
    return [[round(float(a), 3), round(float(b), 3)] for a, b in zip(x, density, strict=True)]


def draft_paper(admin, name="Lantern Matt", **values) -> Revision:
    """The first curve of a paper, still a draft."""
    given = PAPER | {"points": logistic_points()} | values
    return create_standard(kind=PAPERS, actor=admin, name=name, **given)


def make_paper(admin, name="Lantern Matt", **values) -> Revision:
    """A paper's curve in force."""
    return put_in_force(kind=PAPERS, actor=admin, revision_id=draft_paper(admin, name, **values).pk)
