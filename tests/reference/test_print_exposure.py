"""Worked examples of print exposure: common practice, recomputed from the definition of density (derived)."""

import numpy as np
import pytest

from curves.sensitometry.measures import Measure
from curves.sensitometry.printing.print_exposure import (
    print_time_for_base,
    print_time_for_density_change,
    print_time_for_tone,
)
from curves.sensitometry.sampled_curve import SampledCurve


@pytest.mark.parametrize(("callier", "seconds"), [(1.0, 14.13), (1.3, 15.67)])
def test_ten_seconds_and_a_change_of_fifteen_hundredths(callier, seconds):
    """10 s, +0.15 D: 14.13 s in diffuse light, 15.67 s with a Callier factor of 1.3."""
    time = print_time_for_density_change(10, 0.15, callier_factor=callier)
    assert time.value == pytest.approx(seconds, abs=0.005)


def test_base_plus_fog_higher_by_twenty_two_hundredths():
    """Base plus fog +0.22: the time grows by a factor of 1.660."""
    base, reference = (Measure("base_plus_fog", value, value, value, "D") for value in (0.44, 0.22))
    assert print_time_for_base(1.0, base, reference).value == pytest.approx(1.660, abs=0.0005)


def test_time_for_a_tone_follows_the_exposure_equation():
    """log H = log(E0 t) - Q D on a straight paper: worked by hand for E0 4 lx, D 0.8, Q 1.25.

    The paper reaches 0.70 D at log H 0.5, so log t = 0.5 + 1.25 * 0.8 - log10 4 = 0.89794, t = 7.9057 s.
    """
    x = np.linspace(0.0, 2.0, 21)
    paper = SampledCurve.through(x, 0.05 + 1.3 * x)
    time = print_time_for_tone(paper, 0.70, 0.80, np.log10(4), callier_factor=1.25)
    assert time.value == pytest.approx(7.9057, abs=0.0005)
