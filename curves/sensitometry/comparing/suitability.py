"""Whether a measure lies within what is wished, as far as its interval tells: certainly, perhaps, not."""

from collections.abc import Iterable

from curves.sensitometry.measures import Measure, SensitometryError

CERTAIN, POSSIBLE, EXCLUDED = "certain", "possible", "excluded"


def wish_met(measure: Measure, low: float | None = None, high: float | None = None) -> str:
    """Whether a measure's interval lies within a wished range.

    Parameters
    ----------
    measure : Measure
    low, high : float or None, scalar [unit of the measure]
        Ends of the range, themselves within it; None: open.

    Returns
    -------
    str
        ``certain`` where the whole interval lies within, ``excluded`` where none of it does, ``possible``
        otherwise, and where the measure is withheld: nothing is known against it.

    Raises
    ------
    SensitometryError
        When the range ends before it begins.

    Notes
    -----
    The interval is a 95 % one: of a thousand measures whose truth lies just outside a range, at most 25
    are called certain.

    Examples
    --------
    >>> grain = Measure("rms_granularity", 10.0, 9.0, 11.0)
    >>> wish_met(grain, high=12.0), wish_met(grain, high=10.5), wish_met(grain, high=8.0)
    ('certain', 'possible', 'excluded')
    """
    if low is not None and high is not None and low > high:
        raise SensitometryError("BAD_RANGE", "A range begins before it ends.")
    if measure.value is None:
        return POSSIBLE
    # An open side is what a bound leaves open: it may reach anywhere.
    is_above = low is None or (measure.low is not None and measure.low >= low)
    is_below = high is None or (measure.high is not None and measure.high <= high)
    if is_above and is_below:
        return CERTAIN
    misses_low = low is not None and measure.high is not None and measure.high < low
    misses_high = high is not None and measure.low is not None and measure.low > high
    return EXCLUDED if misses_low or misses_high else POSSIBLE


def all_wishes(verdicts: Iterable[str]) -> str:
    """What several wishes come to together.

    Parameters
    ----------
    verdicts : iterable of str
        Of each wish.

    Returns
    -------
    str
        ``excluded`` where one is, ``certain`` where all are, ``possible`` otherwise.

    Examples
    --------
    >>> all_wishes(["certain", "possible"]), all_wishes(["possible", "excluded"]), all_wishes([])
    ('possible', 'excluded', 'certain')
    """
    found = set(verdicts)
    if EXCLUDED in found:
        return EXCLUDED
    return POSSIBLE if POSSIBLE in found else CERTAIN
