"""Names beside points, where they meet no other name, no point and no line; none where there is no room."""

from __future__ import annotations

from collections.abc import Sequence

Reach = tuple[float, float, float, float]
# What a figure measures on a usual screen; on a larger one names stand farther apart than they need.
CANVAS = (860.0, 420.0)
LETTER, HEIGHT, AWAY, POINT = 6.2, 14.0, 5.0, 5.0
#: Half of what a line takes.
LINE = 1.5
BEYOND = 0.05
#: How far a name's box reaches from its point, in widths to the left and in heights downwards.
PLACES = {
    "top right": (0.0, 0.0),
    "bottom right": (0.0, 1.0),
    "top left": (1.0, 0.0),
    "bottom left": (1.0, 1.0),
    "top center": (0.5, 0.0),
    "bottom center": (0.5, 1.0),
}
#: Places beyond the ends of a point's interval; there a scatter trace writes no text, but an annotation does.
BEYOND_ENDS = ("right", "left", "above", "below")


def name_places(
    points: Sequence[tuple[float, float]],
    names: Sequence[str],
    *,
    first: Sequence[int] = (),
    reaches: Sequence[Reach] = (),
    lines: Sequence[Reach] = (),
    canvas: tuple[float, float] = CANVAS,
) -> list[str | None]:
    """Where the name of each point is written.

    Parameters
    ----------
    points : sequence of (float, float), length n [share of the figure]
        From the left and from below.
    names : sequence of str, length n
    first : sequence of int [1]
        Numbers of the points that are served before the others.
    reaches : sequence of (float, float, float, float), length n or 0 [share of the figure]
        Ends of each point's intervals, beyond which its name may stand as well: left, low, right, high.
    lines : sequence of (float, float, float, float) [share of the figure]
        Lines along either axis that no name may cross, such as intervals: left, low, right, high.
    canvas : tuple of float [px]
        Width and height of the figure's field; a name may reach a little beyond its sides.

    Returns
    -------
    list of str or None, length n
        A text position of a scatter trace, or one of ``BEYOND_ENDS``; None where the name would cover
        something.

    Examples
    --------
    >>> name_places([(0.5, 0.5), (0.51, 0.5)], ["Birch 200", "Rowan 200"])
    ['top right', 'bottom right']
    """
    centres = [(across * canvas[0], up * canvas[1]) for across, up in points]
    taken = [(x - POINT, y - POINT, x + POINT, y + POINT) for x, y in centres]
    drawn = [_grown(line, canvas, LINE) for line in lines]
    found: list[str | None] = [None] * len(centres)
    for number in [*first, *(number for number in range(len(centres)) if number not in first)]:
        places = {place: _box(centres[number], names[number], place) for place in PLACES}
        if reaches:
            reach = _grown(reaches[number], canvas, AWAY)
            places |= _boxes_beyond(centres[number], names[number], reach)
        others = [each for other, each in enumerate(taken) if other != number]
        for place, box in places.items():
            if box[0] < -BEYOND * canvas[0] or box[2] > (1 + BEYOND) * canvas[0]:
                continue
            if not any(_meet(box, each) for each in (*others, *drawn)):
                found[number] = place
                taken.append(box)
                break
    return found


def _grown(line: Reach, canvas: tuple[float, float], by: float) -> Reach:
    left, low, right, high = line
    across, up = canvas
    return (left * across - by, low * up - by, right * across + by, high * up + by)


def _boxes_beyond(centre: tuple[float, float], name: str, reach: Reach) -> dict[str, Reach]:
    (x, y), (left, low, right, high), width = centre, reach, LETTER * len(name)
    return {
        "right": (right, y - HEIGHT / 2, right + width, y + HEIGHT / 2),
        "left": (left - width, y - HEIGHT / 2, left, y + HEIGHT / 2),
        "above": (x - width / 2, high, x + width / 2, high + HEIGHT),
        "below": (x - width / 2, low - HEIGHT, x + width / 2, low),
    }


def _box(centre: tuple[float, float], name: str, place: str) -> Reach:
    (x, y), width = centre, LETTER * len(name)
    left, down = PLACES[place]
    aside = 0.0 if left == 0.5 else AWAY * (1 - 2 * left)
    low = y - HEIGHT * down + AWAY * (1 - 2 * down)
    start = x - width * left + aside
    return (start, low, start + width, low + HEIGHT)


def _meet(one: Reach, other: Reach) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]
