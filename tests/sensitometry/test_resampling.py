"""Resampling of whole films: coverage at small numbers, seeds, and films against readings."""

import numpy as np
import pytest

from curves.sensitometry.comparing.resampling import resampled_films
from curves.sensitometry.measures import SensitometryError


@pytest.mark.parametrize("films", [4, 7, 12, 20])
def test_interval_holds_the_truth(films):
    """300 samples of normal films: three standard errors of 95 % are 3.8 %."""
    rng = np.random.default_rng(81)
    hits = []
    for _ in range(300):
        measure = resampled_films("x", rng.standard_normal((films, 1)), seed=1)
        hits.append(measure.low <= 0 <= measure.high)
    assert 0.912 <= np.mean(hits) <= 0.988


def test_readings_of_one_film_count_as_one():
    """Ten thousand readings of a film say no more of the stock than their mean."""
    rng = np.random.default_rng(82)
    centres = rng.normal(0.6, 0.02, 14)
    single = resampled_films("x", centres[:, None], seed=5)
    many = resampled_films("x", [np.full(10_000, centre) for centre in centres], seed=5)
    # The last bit of a mean decides ties between resamples, which shifts the quantiles by a hair.
    assert (many.low, many.high) == pytest.approx((single.low, single.high), abs=1e-4)


def test_the_seed_alone_decides():
    films = np.random.default_rng(83).standard_normal((13, 3))
    assert resampled_films("x", films, seed=4) == resampled_films("x", films, seed=4)
    assert resampled_films("x", films, seed=4) != resampled_films("x", films, seed=5)


def test_any_statistic_of_the_films():
    films = np.random.default_rng(84).lognormal(0, 0.3, (14, 1))
    median = resampled_films("x", films, np.median, seed=1)
    assert median.value == np.median(films)
    assert median.low < median.value < median.high


def test_below_four_films_the_range_is_shown():
    measure = resampled_films("x", [[0.60, 0.62], [0.64], [0.58, np.nan]], seed=1)
    assert measure.value == pytest.approx((0.61 + 0.64 + 0.58) / 3)
    assert measure.low is None
    assert "range from 0.58 to 0.64" in measure.note


@pytest.mark.parametrize("films", [[], [[]], [[np.nan], [np.inf]]])
def test_no_films(films):
    assert resampled_films("x", films, seed=1).reason == "TOO_FEW_FILMS"


def test_films_alike_have_no_interval():
    assert resampled_films("x", [[0.6]] * 9, seed=1).low is None


def test_a_statistic_that_is_not_defined_is_withheld():
    films = np.arange(1.0, 14.0)[:, None]
    assert resampled_films("x", films, lambda v: np.nan, seed=1).reason == "ILL_DEFINED"
    sometimes = resampled_films("x", films, lambda v: np.nan if 13.0 not in v else float(np.mean(v)), seed=1)
    assert sometimes.reason == "ILL_DEFINED"


def test_too_few_resamples_are_refused():
    with pytest.raises(SensitometryError):
        resampled_films("x", [[1.0]] * 5, seed=1, resamples=100)
