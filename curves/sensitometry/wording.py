"""Differences from the reference in plain words, never more than their intervals support."""

from dataclasses import dataclass

from curves.sensitometry.codes import REASONS
from curves.sensitometry.measures import Measure


@dataclass(frozen=True, slots=True)
class Sentence:
    """One plain sentence and the names of the measures that it rests on."""

    text: str
    measure_names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Phrase:
    """How one measure is put into words."""

    subject: str
    more: str
    less: str
    unit: str
    decimals: int
    factor: float = 1.0
    nothing: float = 0.0

    def number(self, value, *, signed=False):
        """A difference in the unit of speech, with its sign or without."""
        shown = self.factor * (value - self.nothing)
        sign = "+" if signed else ""
        return f"{shown if signed else abs(shown):{sign}.{self.decimals}f}"

    def interval(self, measure):
        ends = (measure.low, measure.high)
        low, high = ("open" if end is None else self.number(end, signed=True) for end in ends)
        return f"{low} to {high} {self.unit}"


_MATCHED = "With speed and contrast matched, the"
_PHRASES = {
    "speed_shift_stops": _Phrase("Speed", "faster than", "slower than", "stop", 2),
    "contrast_ratio": _Phrase("Contrast", "higher than", "lower than", "%", 1, 100.0, 1.0),
    "toe_difference": _Phrase(f"{_MATCHED} shadow density", "above", "below", "D", 3),
    "middle_difference": _Phrase(f"{_MATCHED} middle-tone density", "above", "below", "D", 3),
    "highlight_difference": _Phrase(f"{_MATCHED} highlight density", "above", "below", "D", 3),
    "base_difference": _Phrase("Base plus fog", "above", "below", "D", 2),
}
_PARTS = ("toe_difference", "middle_difference", "highlight_difference")


def describe_comparison(
    measures: dict[str, Measure], verdicts: dict[str, str], beyond: dict[str, bool | None]
) -> tuple[Sentence, ...]:
    """Say what differs, what may not, and what cannot be told.

    Parameters
    ----------
    measures : dict of str to Measure
        Differences with their intervals [stop, 1, D].
    verdicts : dict of str to str
        Verdict of each.
    beyond : dict of str to (bool or None)
        Whether each is beyond reading error.

    Returns
    -------
    tuple of Sentence
        A difference is claimed only where the verdict is "real".
    """
    names = ["speed_shift_stops", "contrast_ratio", *_told_parts(measures, beyond), "base_difference"]
    sentences = [Sentence(_sentence(name, measures[name], verdicts[name]), (name,)) for name in names]
    if not any(name in names for name in _PARTS):
        sentences.insert(2, Sentence(_shape(measures["shape_difference"]), ("shape_difference",)))
    return tuple(sentences)


def _told_parts(measures, beyond):
    return [name for name in _PARTS if measures[name].value is not None and beyond[name]]


def _sentence(name, measure, verdict):
    phrase = _PHRASES[name]
    if measure.value is None:
        return f"{phrase.subject} cannot be compared. {REASONS[measure.reason]}"
    interval = phrase.interval(measure)
    if verdict == "not distinguishable":
        return f"{phrase.subject} cannot be told apart from the reference's ({interval})."
    word = phrase.more if measure.value > phrase.nothing else phrase.less
    size = f"{phrase.number(measure.value)} {phrase.unit}"
    if verdict == "real":
        return f"{phrase.subject} is {size} {word} the reference's ({interval})."
    reads = f"{phrase.subject} reads {size} {word} the reference's"
    if verdict == "within the lab's spread":
        return f"{reads}, but that is within the lab's spread from roll to roll ({interval})."
    return f"{reads} ({interval}): beyond reading error, but the spread from roll to roll is not known."


def _shape(whole):
    if whole.value is None:
        return f"The shape cannot be compared. {REASONS[whole.reason]}"
    if whole.low is not None and whole.low > 0:
        text = f"{_MATCHED} curves differ by {whole.value:.3f} D on average"
        return f"{text} ({whole.low:.3f} to {whole.high:.3f} D)."
    return f"{_MATCHED} curves show no difference in shape (at most {whole.high:.3f} D on average)."
