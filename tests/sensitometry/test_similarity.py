"""The map of stocks: known places are found again, and distances are what is stated."""

import numpy as np
import pytest

from curves.sensitometry import SensitometryError
from curves.sensitometry.comparing.equivalence import Margin
from curves.sensitometry.comparing.similarity_map import measure_distances, similarity_map

MARGINS = {"speed": Margin(0.3), "contrast": Margin(0.1, is_ratio=True)}


def distances_of(places):
    return np.linalg.norm(places[:, None] - places[None, :], axis=2)


def test_places_on_a_plane_are_found_again_but_for_turning():
    places = np.random.default_rng(1).normal(size=(9, 2))
    found = similarity_map(distances_of(places))
    assert np.allclose(distances_of(found.places), distances_of(places), atol=1e-9)
    assert found.shown_share == pytest.approx(1.0)


def test_of_places_in_more_dimensions_the_best_plane_is_shown_and_its_share_told():
    places = np.random.default_rng(2).normal(size=(30, 4)) * [3.0, 2.0, 0.3, 0.1]
    found = similarity_map(distances_of(places))
    centred = places - places.mean(axis=0)
    spread = np.linalg.svd(centred, compute_uv=False) ** 2
    # Classical scaling of Euclidean distances is principal components (Torgerson).
    assert found.shown_share == pytest.approx(spread[:2].sum() / spread.sum())
    assert np.corrcoef(distances_of(found.places).ravel(), distances_of(places).ravel())[0, 1] > 0.98


def test_the_map_does_not_hang_on_the_order_of_stocks_nor_on_the_machine():
    table = distances_of(np.random.default_rng(3).normal(size=(7, 3)))
    order = np.random.default_rng(4).permutation(7)
    one, other = similarity_map(table), similarity_map(table[np.ix_(order, order)])
    assert np.allclose(one.places[order], other.places, atol=1e-8)


def test_a_distance_is_the_root_mean_square_of_differences_in_margins():
    stocks = [
        {"speed": 0.0, "contrast": 0.0},
        {"speed": 0.6, "contrast": np.log(1.1)},
        {"speed": 0.3, "contrast": None},
        {"speed": None, "contrast": None},
    ]
    found = measure_distances(stocks, MARGINS)
    assert found[0, 1] == pytest.approx(np.sqrt((2.0**2 + 1.0**2) / 2))
    assert found[0, 2] == pytest.approx(1.0), "what either lacks is left out of the mean"
    assert np.isnan(found[0, 3]) and found[1, 1] == 0.0
    assert np.allclose(found, found.T, equal_nan=True)


@pytest.mark.parametrize("count", [0, 1, 2])
def test_few_stocks_have_places_too(count):
    found = similarity_map(np.ones((count, count)) - np.eye(count))
    assert found.places.shape == (count, 2)


@pytest.mark.parametrize("table", [[[0.0, 1.0]], [[0.0, np.nan], [np.nan, 0.0]], [0.0, 1.0]])
def test_what_is_no_table_of_distances_is_refused(table):
    with pytest.raises(SensitometryError):
        similarity_map(table)
