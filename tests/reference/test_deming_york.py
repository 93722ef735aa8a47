"""Deming's and York's lines through Pearson's data of 1901 with York's weights of 1966.

Data, weights and York's results from memory; recomputed to the digits given. York's line is also checked
against a general least-squares routine that moves every point.
"""

import numpy as np
import pytest
from scipy.optimize import least_squares

from curves.sensitometry.regression import deming_line, york_line

X = np.array([0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4])
Y = np.array([5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5])
WEIGHT_X = np.array([1000, 1000, 500, 800, 200, 80, 60, 20, 1.8, 1])
WEIGHT_Y = np.array([1, 1.8, 4, 8, 20, 20, 70, 70, 100, 500])


def test_deming_line_with_equal_variances():
    line = deming_line(X, Y)
    assert line.slope.value == pytest.approx(-0.545561, abs=5e-7)
    assert line.intercept.value == pytest.approx(5.784044, abs=5e-7)


def test_deming_line_tends_to_least_squares_when_x_is_exact():
    """Ordinary least squares has the slope -0.539577; the ratio of variances is then very large."""
    assert np.polyfit(X, Y, 1)[0] == pytest.approx(-0.539577, abs=5e-7)
    assert deming_line(X, Y, 1e8).slope.value == pytest.approx(-0.539577, abs=5e-7)


def test_york_line():
    line = york_line(X, Y, WEIGHT_X**-0.5, WEIGHT_Y**-0.5)
    assert line.intercept.value == pytest.approx(5.479910, abs=5e-7)
    assert line.slope.value == pytest.approx(-0.480533, abs=5e-7)
    assert line.slope.standard_error == pytest.approx(0.057985, abs=5e-7)
    assert line.intercept.standard_error == pytest.approx(0.294971, abs=5e-7)
    assert line.chi_square == pytest.approx(11.866, abs=5e-4)
    assert line.degrees == 8


def test_york_line_agrees_with_least_squares_over_moved_points():
    """The same maximum likelihood: every x is a parameter of its own beside slope and intercept."""

    def residuals(p):
        true_x = p[2:]
        return np.concatenate(
            [(true_x - X) * np.sqrt(WEIGHT_X), (p[0] + p[1] * true_x - Y) * np.sqrt(WEIGHT_Y)]
        )

    # By place: function, start, Jacobian, bounds, method, then the three tolerances.
    start = np.concatenate([[5.5, -0.5], X])
    found = least_squares(residuals, start, "2-point", (-np.inf, np.inf), "trf", 1e-15, 1e-15, 1e-15)
    line = york_line(X, Y, WEIGHT_X**-0.5, WEIGHT_Y**-0.5)
    # The routine stops at its own precision of some 1e-8.
    assert [line.intercept.value, line.slope.value] == pytest.approx(list(found.x[:2]), abs=1e-6)
    assert line.chi_square == pytest.approx(2 * found.cost, rel=1e-9)
