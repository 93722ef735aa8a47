"""Quantiles and tails from scipy.special are those of scipy.stats, which is slow to import.

References
----------
scipy.stats 1.17 as the second implementation. Both rest on the same special functions; the tolerance of
1e-12 leaves room for a release that changes one of them.
"""

import numpy as np
import pytest
from scipy import stats
from scipy.signal import lfilter

from curves.sensitometry.comparing.equivalence import Margin, equivalence_from_summary
from curves.sensitometry.comparing.resampling import _expanded_level, resampled_films
from curves.sensitometry.controlling.memory_charts import ewma_chart
from curves.sensitometry.densities import mean_density
from curves.sensitometry.developing.development_rate import PROFILE_DROP
from curves.sensitometry.intervals import Z95, mixed_half_width

CLOSE = {"rel": 1e-12, "abs": 1e-300}


def test_the_constants():
    assert pytest.approx(stats.norm.ppf(0.975), **CLOSE) == Z95
    assert pytest.approx(stats.chi2.ppf(0.95, 1), **CLOSE) == PROFILE_DROP


@pytest.mark.parametrize("coverage", [0.5, 0.9, 0.95, 0.9973])
def test_a_normal_half_width(coverage):
    wanted = pytest.approx(0.3 * stats.norm.ppf(0.5 + coverage / 2), **CLOSE)
    assert mixed_half_width(0.0, 0.3, coverage) == wanted
    assert mixed_half_width(1e-8, 0.3, coverage) == wanted


@pytest.mark.parametrize("degrees", [1, 2.7, 5, 40, 1e6, np.inf])
@pytest.mark.parametrize("difference", [-0.08, 0.0, 0.01, 0.6])
def test_two_one_sided_tests(degrees, difference):
    found = equivalence_from_summary("speed", difference, 0.02, degrees, Margin(0.05), alpha=0.05)
    reach = 0.02 * stats.t.ppf(0.95, degrees)
    assert found.difference.high - difference == pytest.approx(reach, rel=1e-12)
    tails = stats.t.sf(found.t_lower, degrees), stats.t.cdf(found.t_upper, degrees)
    assert found.p_value == pytest.approx(max(tails), **CLOSE)
    assert found.difference_p_value == pytest.approx(2 * stats.t.sf(abs(difference) / 0.02, degrees), **CLOSE)


def test_students_interval_of_few_films_and_of_few_densities():
    means = np.array([0.61, 0.64, 0.58, 0.66, 0.63])
    found = resampled_films("contrast", [[mean] for mean in means], seed=1)
    reach = stats.t.ppf(0.975, 4) * means.std(ddof=1) / np.sqrt(5)
    assert found.high - found.value == pytest.approx(reach, rel=1e-12)
    spread = mean_density(means).standard_error, mean_density(np.tile(means, 2)).standard_error
    # The same scatter counted twice: sd * sqrt(5 / 4 * 4 / 9 ...) cancels but for Student's factors.
    factors = stats.t.ppf(0.975, 4) / np.sqrt(4), stats.t.ppf(0.975, 9) / np.sqrt(9)
    assert spread[0] / spread[1] == pytest.approx(factors[0] / factors[1], rel=1e-9)


@pytest.mark.parametrize("films", [12, 30, 400])
def test_the_level_that_widens_resampled_intervals(films):
    half_width = np.sqrt(films / (films - 1)) * stats.t.ppf(0.975, films - 1)
    assert _expanded_level(films) == pytest.approx(1 - 2 * stats.norm.sf(half_width), rel=1e-12)


@pytest.mark.parametrize("weight", [0.05, 0.2, 1.0])
def test_a_fading_average_is_scipys_linear_filter(weight):
    values = np.random.default_rng(5).normal(0.6, 0.02, 300)
    chart = ewma_chart(values, centre=0.6, standard_deviation=0.02, weight=weight)
    assert chart.values == pytest.approx(0.6 + lfilter([weight], [1, weight - 1], values - 0.6), rel=1e-12)
