"""Names beside points: none covers another, and whoever comes first keeps its name."""

import numpy as np

from curves.figures.point_names import CANVAS, HEIGHT, LETTER, name_places


def test_names_of_lone_points_stand_at_the_top_right():
    assert name_places([(0.1, 0.1), (0.9, 0.9)], ["Alder", "Birch"]) == ["top right", "top right"]


def test_neighbours_step_aside():
    first, second = name_places([(0.50, 0.5), (0.53, 0.5)], ["Alder 100", "Birch 200"])
    assert first is not None and second is not None and first != second


def test_in_a_crowd_some_have_no_name_but_those_that_come_first_do():
    rng = np.random.default_rng(3)
    crowd = [tuple(point) for point in 0.5 + 0.02 * rng.standard_normal((40, 2))]
    found = name_places(crowd, ["Alder Pan 100"] * 40, first=[39])
    assert found[39] is not None
    # A name has HEIGHT times its letters of room; what the crowd spans holds far fewer than forty.
    room = (0.12 * CANVAS[0] + 26 * LETTER) * (0.12 * CANVAS[1] + 2 * HEIGHT)
    assert 1 <= sum(place is not None for place in found) <= room / (13 * LETTER * HEIGHT)
