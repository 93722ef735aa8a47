"""The constants of control charts against the printed table, closed forms and scipy's own range distribution.

Table for samples of 2 to 10: ASTM Manual on Presentation of Data and Control Chart Analysis, from memory,
recomputed. Some printed tables give D4(3) = 2.574 and D4(5) = 2.115: rounded from rounded d2 and d3.
"""

import math

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import studentized_range

from curves.sensitometry.controlling.control_constants import control_constants, mean_range_constant
from curves.sensitometry.measures import SensitometryError

SIZES = range(2, 11)
TABLE = {
    "d2": (1.128, 1.693, 2.059, 2.326, 2.534, 2.704, 2.847, 2.970, 3.078),
    "d3": (0.8525, 0.8884, 0.8798, 0.8641, 0.8480, 0.8332, 0.8198, 0.8078, 0.7971),
    "c4": (0.7979, 0.8862, 0.9213, 0.9400, 0.9515, 0.9594, 0.9650, 0.9693, 0.9727),
    "a2": (1.880, 1.023, 0.729, 0.577, 0.483, 0.419, 0.373, 0.337, 0.308),
    "big_d3": (0, 0, 0, 0, 0, 0.076, 0.136, 0.184, 0.223),
    "big_d4": (3.267, 2.575, 2.282, 2.114, 2.004, 1.924, 1.864, 1.816, 1.777),
}


@pytest.mark.parametrize("name", TABLE)
def test_printed_table(name):
    """Half of the last printed digit; a hair more for 1.8799 and the like that print tables round up."""
    digit = 5.5e-5 if name in ("d3", "c4") else 5.5e-4
    for size, printed in zip(SIZES, TABLE[name], strict=True):
        assert getattr(control_constants(size), name) == pytest.approx(printed, abs=digit), size


def test_closed_forms():
    """Two: 2/sqrt(pi) and sqrt(2 - 4/pi). Three: 3/sqrt(pi). Exact but for rounding of the integration."""
    assert control_constants(2).d2 == pytest.approx(2 / math.sqrt(math.pi), abs=1e-12)
    assert control_constants(2).d3 == pytest.approx(math.sqrt(2 - 4 / math.pi), abs=1e-12)
    assert control_constants(3).d2 == pytest.approx(3 / math.sqrt(math.pi), abs=1e-12)
    assert control_constants(2).c4 == pytest.approx(math.sqrt(2 / math.pi), abs=1e-12)


@pytest.mark.parametrize("size", [4, 15, 25])
def test_against_scipys_studentized_range(size):
    """Its distribution with very many degrees of freedom is that of the range."""
    mean, _ = quad(lambda width: studentized_range.sf(width, size, 1e6), 0, 12)
    # A million degrees of freedom still move the mean by some 1e-6 of itself.
    assert control_constants(size).d2 == pytest.approx(mean, rel=1e-5)


def test_constants_of_larger_samples_go_on_smoothly():
    values = np.array([[c.d2, c.d3, c.c4] for c in map(control_constants, range(2, 26))])
    assert np.all(np.diff(values[:, 0]) > 0)
    assert np.all(np.diff(values[1:, 1]) < 0)
    assert np.all(np.diff(values[:, 2]) > 0)
    # Twenty-five: d2 3.931, d3 0.7084, c4 0.9896 as printed (from memory).
    assert values[-1] == pytest.approx([3.931, 0.7084, 0.9896], abs=5.5e-4)


def test_divisor_of_few_ranges():
    """The divisors behind the printed K2 and K3 of gauge studies (from memory), but for the last digit."""
    assert mean_range_constant(3, 1) == pytest.approx(1.91155, abs=1.5e-5)
    assert mean_range_constant(2, 1) == pytest.approx(math.sqrt(2), abs=1e-12)
    assert mean_range_constant(10, 1) == pytest.approx(3.17905, abs=1.5e-5)


@pytest.mark.parametrize("size", [1, 0, -3, 26, 2.5, None, float("nan")])
def test_other_sizes_are_refused(size):
    with pytest.raises(SensitometryError):
        control_constants(size)
    with pytest.raises(SensitometryError):
        mean_range_constant(5, 0)
