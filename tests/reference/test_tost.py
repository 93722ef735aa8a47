"""Two one-sided tests against a worked example, and against scipy's one-sided t-tests.

Method: Schuirmann 1987, read in a vendor's documentation; the example's numbers were recomputed (derived).
"""

import numpy as np
import pytest
from scipy.stats import ttest_ind

from curves.sensitometry.comparing.equivalence import Margin, compare_films
from curves.sensitometry.comparing.relatives import alpha_for_all_pairs

A = [0.62, 0.60, 0.64, 0.61, 0.63]
B = [0.60, 0.62, 0.59, 0.61, 0.60]


def test_worked_example():
    """Margin 0.05, pooled: d 0.016, t 7.5707 and -3.9001, p 0.002272, 90 % interval -0.00021 to +0.03221."""
    result = compare_films("contrast_index", A, B, Margin(0.05))
    assert result.difference.value == pytest.approx(0.016, abs=0.0005)
    standard_error = result.difference.value + 0.05
    assert standard_error / result.t_lower == pytest.approx(0.0087178, abs=0.00000005)
    assert result.t_lower == pytest.approx(7.5707, abs=0.00005)
    assert result.t_upper == pytest.approx(-3.9001, abs=0.00005)
    assert result.p_value == pytest.approx(0.002272, abs=0.0000005)
    assert result.difference.low == pytest.approx(-0.00021, abs=0.000005)
    assert result.difference.high == pytest.approx(0.03221, abs=0.000005)
    assert result.coverage == pytest.approx(0.90)
    assert result.is_equivalent
    assert result.verdict == "equivalent"
    # The test for a difference fails to find one, which by itself would show nothing.
    assert result.difference_p_value == pytest.approx(0.104, abs=0.0005)


@pytest.mark.parametrize("equal_variances", [True, False])
def test_agrees_with_scipys_one_sided_tests(equal_variances):
    rng = np.random.default_rng(11)
    a, b = rng.normal(0.60, 0.02, 6), rng.normal(0.61, 0.04, 4)
    result = compare_films("contrast_index", a, b, Margin(0.05), equal_variances=equal_variances)
    above = ttest_ind(a, b - 0.05, equal_var=equal_variances, alternative="greater")
    below = ttest_ind(a, b + 0.05, equal_var=equal_variances, alternative="less")
    assert result.t_lower == pytest.approx(above.statistic, rel=1e-10)
    assert result.t_upper == pytest.approx(below.statistic, rel=1e-10)
    assert result.p_value == pytest.approx(max(above.pvalue, below.pvalue), rel=1e-9)
    interval = ttest_ind(a, b, equal_var=equal_variances).confidence_interval(0.90)
    assert (result.difference.low, result.difference.high) == pytest.approx(tuple(interval), rel=1e-9)


def test_all_pairs_of_several_stocks():
    """Lauzon & Caffo 2009: alpha over the number of stocks less one."""
    assert alpha_for_all_pairs(0.05, 6) == pytest.approx(0.01)
