"""Differences from the reference in plain words, never more than their intervals support."""

from dataclasses import dataclass

from curves.sensitometry.codes import REASONS
from curves.sensitometry.measures import Measure


@dataclass(frozen=True, slots=True)
class Sentence:
    """One plain sentence and the names of the measures that it rests on."""

    text: str
    measure_names: tuple[str, ...]


_NOT_KNOWN = (
    "Whether {these} real is open: beyond reading error, but how far rolls of one stock differ"
    " in this lab is not known yet."
)
_WITHIN = " This is beyond reading error but within the lab's spread from roll to roll."
_WORDS = {
    "toe_difference": "shadows",
    "middle_difference": "middle tones",
    "highlight_difference": "highlights",
}


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
    """
    parts = _curve_parts(measures, beyond)
    parts.append(_base(measures["base_difference"]))
    sentences = [_finished(text, names, verdicts) for text, names in parts]
    open_names = tuple(
        name for _, names in parts for name in names if beyond[name] and verdicts[name] == "unknown"
    )
    if open_names:
        these = "this difference is" if len(open_names) == 1 else "these differences are"
        sentences.append(Sentence(_NOT_KNOWN.format(these=these), open_names))
    return tuple(sentences)


def _curve_parts(measures, beyond):
    """Speed, contrast and shape; in one sentence where one reason withholds them all."""
    names = ("speed_shift_stops", "contrast_ratio", "shape_difference")
    reasons = {measures[name].reason for name in names}
    if len(reasons) == 1 and None not in reasons:
        return [(f"Speed, contrast and shape cannot be compared: {_why(measures[names[0]])}", names)]
    speed, contrast = _speed(measures[names[0]]), _contrast(measures[names[1]])
    return [speed, contrast, *_shapes(measures, beyond)]


def _finished(text, names, verdicts):
    """The sentence with what must be said about the spread between rolls."""
    if any(verdicts[name] == "within the lab's spread" for name in names):
        text += _WITHIN
    return Sentence(text, names)


def _range(measure, digits, factor=1.0, shift=0.0, unit=""):
    ends = (measure.low, measure.high)
    low, high = ("open" if end is None else f"{factor * (end - shift):+.{digits}f}" for end in ends)
    return f"{low} to {high}{unit}".replace("-", "−")


def _why(measure):
    """The reason why a measure is withheld, as the rest of a sentence."""
    text = REASONS.get(measure.reason, "it is withheld.")
    return text[0].lower() + text[1:]


def _stops(shift):
    return f"{abs(shift):.2f} {'stop' if abs(shift) <= 1 else 'stops'}"


def _is_apart(measure, nothing=0.0):
    if measure.low is not None and measure.low > nothing:
        return True
    return measure.high is not None and measure.high < nothing


def _speed(measure):
    names = ("speed_shift_stops",)
    if measure.value is None:
        return f"Speed cannot be compared: {_why(measure)}", names
    span = _range(measure, 2, unit=" stops")
    if not _is_apart(measure):
        return f"Speed cannot be told apart from the reference's ({span}).", names
    word = "faster" if measure.value > 0 else "slower"
    return f"{_stops(measure.value)} {word} than the reference ({span}).", names


def _contrast(measure):
    names = ("contrast_ratio",)
    if measure.value is None:
        return f"Contrast cannot be compared: {_why(measure)}", names
    span = _range(measure, 1, 100.0, 1.0, " %")
    if not _is_apart(measure, 1.0):
        return f"Contrast cannot be told apart from the reference's ({span}).", names
    word = "more" if measure.value > 1 else "less"
    return f"{abs(100 * (measure.value - 1)):.1f} % {word} contrast than the reference ({span}).", names


def _shapes(measures, beyond):
    whole = measures["shape_difference"]
    if whole.value is None:
        return [(f"The shape cannot be compared: {_why(whole)}", ("shape_difference",))]
    parts = [(_part(name, measures[name]), (name,)) for name in _WORDS if beyond[name]]
    if not beyond["shape_difference"] and not parts:
        limit = f"at most {whole.high:.3f} D" if whole.high is not None else "without a known limit"
        text = f"With speed and contrast matched, no difference in shape shows ({limit} on average)."
        return [(text, ("shape_difference",))]
    text = f"With speed and contrast matched, the curves differ by {whole.value:.3f} D on average."
    return ([(text, ("shape_difference",))] if beyond["shape_difference"] else []) + parts


def _part(name, measure):
    word = "denser" if measure.value > 0 else "thinner"
    return f"The {_WORDS[name]} are {abs(measure.value):.3f} D {word} then ({_range(measure, 3, unit=' D')})."


def _base(measure):
    names = ("base_difference",)
    if measure.value is None:
        return f"Base plus fog cannot be compared: {_why(measure)}", names
    span = _range(measure, 2, unit=" D")
    if not _is_apart(measure):
        return f"Base plus fog cannot be told apart from the reference's ({span}).", names
    word = "higher" if measure.value > 0 else "lower"
    return f"Base plus fog is {abs(measure.value):.2f} D {word} than the reference's ({span}).", names
