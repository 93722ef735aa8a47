"""Words for numbers: which word an interval bears, and a number with its interval as sentences show it."""

from collections.abc import Iterable
from dataclasses import dataclass

from scipy.special import ndtr, ndtri

from curves.sensitometry.intervals import Z95
from curves.sensitometry.measures import Measure
from curves.sensitometry.number_text import plain_number, signed_number

# Words are chosen by an interval wider than the 95 % one that is shown: of a thousand clauses whose
# truth lies at a limit, about one is then false, and not twenty-five.
WORD_REACH = 1.6


@dataclass(frozen=True, slots=True)
class Scale:
    """Words for a measure, from low to high, parted at limits.

    Parameters
    ----------
    name : str
        Key in the registry of measures.
    limits : tuple of float, shape (n,) [unit of the measure]
        Where one word ends and the next begins.
    words : tuple of str, length n + 1
    """

    name: str
    limits: tuple[float, ...]
    words: tuple[str, ...]

    def place(self, value: float) -> int:
        """Which of the words holds for a value.

        Parameters
        ----------
        value : float, scalar [unit of the measure]

        Returns
        -------
        int, scalar [1]
        """
        return sum(value >= limit for limit in self.limits)


def scale_span(scale: Scale, measure: Measure) -> tuple[int, ...]:
    """The words that the interval reaches; an open end reaches to the last word.

    Parameters
    ----------
    scale : Scale
    measure : Measure
        With a value [unit of the scale].

    Returns
    -------
    tuple of int
        Places in the scale's words.
    """
    low, high = reach_ends(measure)
    first = 0 if low is None else scale.place(low)
    last = len(scale.limits) if high is None else scale.place(high)
    return tuple(range(first, last + 1))


def span_word(scale: Scale, span: tuple[int, ...]) -> str | None:
    """The word of one place, "a to b" of two neighbours; None of more, which would say nothing.

    Parameters
    ----------
    scale : Scale
    span : tuple of int
        Places in the scale's words.

    Returns
    -------
    str or None
    """
    if len(span) > 2:
        return None
    return " to ".join(scale.words[place] for place in span)


def scale_word(scale: Scale, measure: Measure) -> str | None:
    """The word that a measure's interval bears; None where it bears none.

    Parameters
    ----------
    scale : Scale
    measure : Measure
        With a value [unit of the scale].

    Returns
    -------
    str or None

    Examples
    --------
    >>> scale = Scale("film_mtf50", (25.0, 40.0), ("low", "medium", "high"))
    >>> scale_word(scale, Measure("film_mtf50", 30.0, 29.0, 31.0))
    'medium'
    >>> scale_word(scale, Measure("film_mtf50", 38.0, 36.0, 40.0))
    'medium to high'
    """
    return span_word(scale, scale_span(scale, measure))


def number_words(measure: Measure, decimals: int, unit: str = "", *, signed: bool = False) -> str:
    """A measure's number with unit and interval.

    Parameters
    ----------
    measure : Measure
        With a value.
    decimals : int, scalar [1]
    unit : str
    signed : bool
        Whether a plus sign is written, too.

    Returns
    -------
    str
        With "at least" or "at most" where the interval is open on one side.

    Examples
    --------
    >>> number_words(Measure("box_difference_stops", -0.001, -0.2, 0.2), 2, "stop", signed=True)
    '0.00 stop [−0.20 to 0.20]'
    >>> number_words(Measure("box_difference_stops", 0.5, 0.5, None), 2, "stop", signed=True)
    'at least +0.50 stop'
    """
    number = signed_number if signed else plain_number
    is_open = (measure.low is None) != (measure.high is None)
    bound = ("at least" if measure.high is None else "at most") if is_open else ""
    interval = _interval(measure, decimals)
    return " ".join(part for part in (bound, number(measure.value, decimals), unit, interval) if part)


def reach_ends(measure: Measure, reach: float = WORD_REACH) -> tuple[float | None, float | None]:
    """The interval by which words are chosen, wider than the one that is shown.

    Parameters
    ----------
    measure : Measure
        With a value [any unit].
    reach : float, scalar [width of the shown interval]
        How much wider.

    Returns
    -------
    tuple of (float or None), shape (2,) [unit of the measure]
        An open end stays open.
    """
    low = None if measure.low is None else measure.value - reach * (measure.value - measure.low)
    high = None if measure.high is None else measure.value + reach * (measure.high - measure.value)
    return low, high


def reach_of_many(measures: Iterable[Measure]) -> float:
    """How much wider the interval has to be for a claim on one of several numbers that are looked at.

    Of all together no more claims are then false than of one number that words are chosen by (Bonferroni).

    Parameters
    ----------
    measures : iterable of Measure, length n [any unit]
        Those that are withheld do not count.

    Returns
    -------
    float, scalar [width of the shown interval]
    """
    known = sum(measure.value is not None for measure in measures)
    return -float(ndtri(ndtr(-WORD_REACH * Z95) / max(known, 1))) / Z95


def stands_out(measure: Measure, reach: float = WORD_REACH) -> bool:
    """Whether zero lies outside of an interval that is so much wider than the one that is shown.

    Parameters
    ----------
    measure : Measure
        With a value [any unit].
    reach : float, scalar [width of the shown interval]

    Returns
    -------
    bool
        False for a number without an interval.
    """
    low, high = reach_ends(measure, reach)
    return (low is not None and low > 0) or (high is not None and high < 0)


def _interval(measure: Measure, decimals: int) -> str:
    if measure.low is None or measure.high is None:
        return ""
    return f"[{plain_number(measure.low, decimals)} to {plain_number(measure.high, decimals)}]"
