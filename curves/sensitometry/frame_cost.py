"""What a frame of a film costs, out of a price as it was paid.

A bulk roll is loaded into cassettes: each takes its frames and, lost to leader and trailer, some film more.
Only whole rolls count; what is left at the end of the bulk roll is waste, and its cost falls on the frames.
"""

from decimal import ROUND_FLOOR, ROUND_HALF_EVEN, Decimal

COST_PLACES = Decimal("0.0001")


def rolls_from_bulk(
    length_m: Decimal, frames_per_roll: int, frames_per_metre: Decimal, loss_m: Decimal
) -> int:
    """How many whole rolls a bulk roll gives.

    Parameters
    ----------
    length_m : Decimal, scalar [m]
    frames_per_roll : int, scalar [1]
    frames_per_metre : Decimal, scalar [1/m]
    loss_m : Decimal, scalar [m]
        Leader and trailer of each roll.

    Returns
    -------
    int, scalar [1]

    Examples
    --------
    >>> rolls_from_bulk(Decimal("30.5"), 36, Decimal("26.3"), Decimal("0.25"))
    18
    """
    each = Decimal(frames_per_roll) / frames_per_metre + loss_m
    return int((length_m / each).to_integral_value(rounding=ROUND_FLOOR))


def cost_per_frame(
    price: Decimal,
    frames: int,
    *,
    frames_per_roll: int = 0,
    cassette_price: Decimal | None = None,
    cassette_uses: int = 1,
) -> Decimal:
    """Price of one frame, to a ten-thousandth.

    Parameters
    ----------
    price : Decimal, scalar [currency]
        Of the whole pack, box or bulk roll.
    frames : int, scalar [1]
        Frames that come of it.
    frames_per_roll : int, scalar [1]
        Frames on one loaded roll; needed with a cassette.
    cassette_price : Decimal or None, scalar [currency]
        Of one cassette to load into.
    cassette_uses : int, scalar [1]
        How many rolls a cassette serves for.

    Returns
    -------
    Decimal, scalar [currency]

    Examples
    --------
    >>> cost_per_frame(Decimal("9.00"), 36)
    Decimal('0.2500')
    >>> cost_per_frame(
    ...     Decimal("90"), 648, frames_per_roll=36, cassette_price=Decimal("1.80"), cassette_uses=5
    ... )
    Decimal('0.1489')
    """
    each = price / Decimal(frames)
    if cassette_price is not None:
        each += cassette_price / Decimal(cassette_uses * frames_per_roll)
    return each.quantize(COST_PLACES, rounding=ROUND_HALF_EVEN)
