"""Numbers in words, tables and figures: a true minus sign, and no sign on what rounds to zero."""


def plain_number(value: float, decimals: int) -> str:
    """A number with so many decimals.

    Parameters
    ----------
    value : float, scalar [any unit]
        Finite.
    decimals : int, scalar [1]

    Returns
    -------
    str

    Examples
    --------
    >>> plain_number(-0.25, 1), plain_number(-0.004, 2)
    ('−0.2', '0.00')
    """
    return f"{value:z.{decimals}f}".replace("-", "−")


def signed_number(value: float, decimals: int) -> str:
    """A difference, its sign always shown but on what rounds to zero.

    Parameters
    ----------
    value : float, scalar [any unit]
        Finite.
    decimals : int, scalar [1]

    Returns
    -------
    str

    Examples
    --------
    >>> signed_number(0.25, 2), signed_number(-0.25, 2), signed_number(0.004, 2), signed_number(-0.004, 2)
    ('+0.25', '−0.25', '0.00', '0.00')
    """
    text = f"{value:+z.{decimals}f}"
    return (text if float(text) else text[1:]).replace("-", "−")
