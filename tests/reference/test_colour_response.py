"""Colour response: worked example and filter factors, derived from the characteristic curve's definition.

The spread from roll to roll: ISO 5725-2, sulphur in coal, with laboratories in the place of stocks; package
beside: statsmodels' analysis of variance.
"""

import math

import numpy as np
import pandas
import pytest
from statsmodels.formula.api import ols
from statsmodels.stats.anova import anova_lm

from curves.sensitometry.colour_response import Patch, filter_factor, patch_shifts, shifts_from_reference
from curves.sensitometry.comparing.colour_spread import RollColours, estimate_colour_spread
from curves.sensitometry.measures import Measure
from curves.sensitometry.sampled_curve import SampledCurve
from curves.sensitometry.speed_scale import STOP
from tests.reference.test_iso5725 import LABELS, VALUES


def straight_film(gradient=0.60):
    x = np.linspace(-2.0, 1.0, 31)
    return SampledCurve.through(x, 0.80 + gradient * x + 1.3)


def test_patch_and_reference_of_the_worked_example():
    """Gradient 0.60, grey 0.80, patch 0.62: -0.30, one stop; reference -0.20; so -0.10, a third of a stop."""
    film = straight_film()
    grey = [Patch("grey", 0.18, 0.80 + 0.5)]
    shift = patch_shifts(film, [Patch("red", 0.18, 0.62 + 0.5)], grey)
    assert shift["red"].value * STOP == pytest.approx(-0.30, abs=0.005)
    assert shift["red"].value == pytest.approx(-1.0, abs=0.005)
    reference = patch_shifts(film, [Patch("red", 0.18, 0.80 - 0.60 * 0.20 + 0.5)], grey)
    assert reference["red"].value * STOP == pytest.approx(-0.20, abs=0.005)
    difference = shifts_from_reference(shift, reference)["red"].value
    assert difference * STOP == pytest.approx(-0.10, abs=0.005)
    assert difference == pytest.approx(-1 / 3, abs=0.005)


def test_error_of_the_difference():
    """About 2 sd / gradient: 0.033 log exposure for 0.01 D and 0.60."""
    film = straight_film()
    grey, red = [Patch("grey", 0.18, 1.30, 0.01)], [Patch("red", 0.18, 1.12, 0.01)]
    shifts = patch_shifts(film, red, grey)
    difference = shifts_from_reference(shifts, shifts)["red"]
    assert difference.standard_error * STOP == pytest.approx(0.033, abs=0.0005)


@pytest.mark.parametrize(("factor", "log_factor"), [(2, 0.301), (4, 0.602)])
def test_filter_factors(factor, log_factor):
    """Equal densities with 0.301 or 0.602 more exposure: factor 2 or 4."""
    assert filter_factor(straight_film(), 1.3, 1.3, log_factor).value == pytest.approx(factor, rel=0.001)
    # Without making up for it the densities show the same loss.
    loss = 0.60 * math.log10(factor)
    assert filter_factor(straight_film(), 1.6, 1.6 - loss).value == pytest.approx(factor, rel=1e-6)


def read_without_error(stock, **values):
    shifts = {patch: Measure("colour_shift", value, unit="stop") for patch, value in values.items()}
    return RollColours(stock, shifts, dict.fromkeys(shifts))


def test_spread_within_groups_of_the_published_example():
    """Within laboratories of unequal numbers of readings: 0.015 as printed, 0.0151 in full, of 20 degrees."""
    rolls = [read_without_error(lab, Red=value) for lab, value in zip(LABELS, VALUES, strict=True)]
    found = estimate_colour_spread(rolls)
    assert found.sd.value == pytest.approx(0.0151, abs=5.5e-5)
    assert found.degrees_of_freedom == len(VALUES) - len(set(LABELS))


def test_spread_of_two_patches_beside_statsmodels_analysis_of_variance():
    """Squares within stock and patch: the residual of a model with a mean for each."""
    rng = np.random.default_rng(23)
    rows = [
        (stock, patch, roll, rng.normal(0, 0.1)) for stock in "ABC" for roll in range(4) for patch in "pq"
    ]
    frame = pandas.DataFrame(rows, columns=["stock", "patch", "roll", "value"])
    expected = anova_lm(ols("value ~ C(stock) * C(patch)", frame).fit())["mean_sq"]["Residual"]
    rolls = [
        read_without_error(stock, **dict(zip(own["patch"], own["value"], strict=True)))
        for (stock, _), own in frame.groupby(["stock", "roll"])
    ]
    assert estimate_colour_spread(rolls).sd.value == pytest.approx(math.sqrt(expected), rel=1e-9)
