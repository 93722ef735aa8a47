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


def test_names_cross_no_line():
    points, names = [(0.5, 0.5)], ["Alder 100"]
    assert name_places(points, names, lines=[(0.4, 0.5, 0.6, 0.5), (0.5, 0.4, 0.5, 0.6)]) == ["top right"]
    above = (0.51, 0.52, 0.6, 0.52)  # within the height of a name over the point
    assert name_places(points, names, lines=[above]) == ["bottom right"]
    fence = [(0.5 + side, 0.3, 0.5 + side, 0.7) for side in (-0.02, 0.0, 0.02)]
    assert name_places(points, names, lines=fence) == [None]


def test_where_there_is_no_room_beside_the_point_a_name_stands_beyond_its_interval():
    points, names = [(0.5, 0.5)], ["Alder 100"]
    fence = [(0.5 + side, 0.3, 0.5 + side, 0.7) for side in (-0.02, 0.0, 0.02)]
    reach = (0.4, 0.3, 0.6, 0.7)
    assert name_places(points, names, reaches=[reach], lines=fence) == ["right"]
    walls = [(0.6 + 0.02, 0.4, 0.6 + 0.02, 0.6), (0.4 - 0.02, 0.4, 0.4 - 0.02, 0.6)]
    assert name_places(points, names, reaches=[reach], lines=[*fence, *walls]) == ["above"]
