"""Names beside points, each where it meets neither another name nor a point; none where there is no room."""

from __future__ import annotations

from collections.abc import Sequence

# What a figure measures on a usual screen; on a larger one names stand farther apart than they need.
CANVAS = (860.0, 420.0)
LETTER, HEIGHT, AWAY, POINT = 6.2, 14.0, 5.0, 5.0
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


def name_places(
    points: Sequence[tuple[float, float]],
    names: Sequence[str],
    *,
    first: Sequence[int] = (),
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
    canvas : tuple of float [px]
        Width and height of the figure's field; a name may reach a little beyond its sides.

    Returns
    -------
    list of str or None, length n
        A text position of a scatter trace; None where the name would cover something.

    Examples
    --------
    >>> name_places([(0.5, 0.5), (0.51, 0.5)], ["Birch 200", "Rowan 200"])
    ['top right', 'bottom right']
    """
    centres = [(across * canvas[0], up * canvas[1]) for across, up in points]
    taken = [(x - POINT, y - POINT, x + POINT, y + POINT) for x, y in centres]
    found: list[str | None] = [None] * len(centres)
    for number in [*first, *(number for number in range(len(centres)) if number not in first)]:
        for place in PLACES:
            box = _box(centres[number], names[number], place)
            if box[0] < -BEYOND * canvas[0] or box[2] > (1 + BEYOND) * canvas[0]:
                continue
            others = (each for other, each in enumerate(taken) if other != number)
            if not any(_meet(box, each) for each in others):
                found[number] = place
                taken.append(box)
                break
    return found


def _box(centre: tuple[float, float], name: str, place: str) -> tuple[float, float, float, float]:
    (x, y), width = centre, LETTER * len(name)
    left, down = PLACES[place]
    aside = 0.0 if left == 0.5 else AWAY * (1 - 2 * left)
    low = y - HEIGHT * down + AWAY * (1 - 2 * down)
    start = x - width * left + aside
    return (start, low, start + width, low + HEIGHT)


def _meet(one: tuple[float, float, float, float], other: tuple[float, float, float, float]) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]
