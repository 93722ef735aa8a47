"""Differences from the reference in plain words, never more than their intervals support."""

from collections.abc import Sequence
from dataclasses import dataclass

from curves.sensitometry.codes import REASONS
from curves.sensitometry.measures import Measure
from curves.sensitometry.number_text import signed_number


@dataclass(frozen=True, slots=True)
class Sentence:
    """One plain sentence and the names of the measures that it rests on."""

    text: str
    measure_names: tuple[str, ...]


_OPEN = (
    "Whether {these} real is open: beyond reading error, but how far rolls of one stock differ"
    " in this lab is not known yet."
)
_UNLIKE = (
    "How much of this is the film's own cannot be told: the two were not exposed and processed under the"
    " same standards."
)
_WITHIN = "; beyond reading error but within the lab's spread from roll to roll."
_MATCHED = "With speed and contrast matched, the "
_PARTS = {
    "toe_difference": "shadows",
    "middle_difference": "middle tones",
    "highlight_difference": "highlights",
}
_CURVE = ("speed_shift_stops", "contrast_ratio", "shape_difference")


def listed(words: Sequence[str]) -> str:
    """Words as they stand in a sentence.

    Parameters
    ----------
    words : sequence of str, shape (n,)
        At least one.

    Returns
    -------
    str

    Examples
    --------
    >>> listed(["toe"]), listed(["toe", "shoulder"]), listed(["toe", "middle", "shoulder"])
    ('toe', 'toe and shoulder', 'toe, middle and shoulder')
    """
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1])))


def describe_comparison(
    measures: dict[str, Measure],
    verdicts: dict[str, str],
    beyond: dict[str, bool | None],
    *,
    is_like_with_like: bool = True,
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
    is_like_with_like : bool
        Whether both stand under the same standards; if not, the last sentence says what follows from it.

    Returns
    -------
    tuple of Sentence
        A difference is claimed as such only where the verdict is "real".
    """
    sentences = [*_about_curves(measures, verdicts, beyond), _base(measures, verdicts)]
    names = [name for sentence in sentences for name in sentence.measure_names]
    if not is_like_with_like:
        told = tuple(name for name in names if measures[name].value is not None)
        return (*sentences, Sentence(_UNLIKE, told)) if told else tuple(sentences)
    left_open = tuple(name for name in names if beyond[name] and verdicts[name] == "unknown")
    if left_open:
        these = "this difference is" if len(left_open) == 1 else "these differences are"
        sentences.append(Sentence(_OPEN.format(these=these), left_open))
    return tuple(sentences)


def _about_curves(measures, verdicts, beyond):
    """Speed, contrast and shape; in one sentence where one reason withholds them all."""
    reasons = {measures[name].reason for name in _CURVE}
    if len(reasons) == 1 and None not in reasons:
        text = f"Speed, contrast and shape cannot be compared: {_why(measures[_CURVE[0]])}"
        return [Sentence(text, _CURVE)]
    names = [name for name in _PARTS if beyond[name]]
    parts = [
        _parts([name for name in names if verdicts[name] == verdict], measures, verdict)
        for verdict in dict.fromkeys(verdicts[name] for name in names)
    ]
    whole = [] if parts else [_shape(measures, verdicts)]
    return [_speed(measures, verdicts), _contrast(measures, verdicts), *whole, *parts]


def _speed(measures, verdicts):
    name = "speed_shift_stops"
    measure = measures[name]
    if measure.value is None:
        return Sentence(f"Speed cannot be compared: {_why(measure)}", (name,))
    span = _range(measure, 2, unit=" stops")
    word = "faster" if measure.value > 0 else "slower"
    size = f"{abs(measure.value):.2f} {'stop' if abs(measure.value) <= 1 else 'stops'}"
    return _told(name, verdicts, "Speed", f"{size} {word} than the reference", span)


def _contrast(measures, verdicts):
    name = "contrast_ratio"
    measure = measures[name]
    if measure.value is None:
        return Sentence(f"Contrast cannot be compared: {_why(measure)}", (name,))
    span = _range(measure, 1, 100.0, 1.0, " %")
    word = "more" if measure.value > 1 else "less"
    size = f"{abs(100 * (measure.value - 1)):.1f} %"
    return _told(name, verdicts, "Contrast", f"{size} {word} contrast than the reference", span)


def _base(measures, verdicts):
    name = "base_difference"
    measure = measures[name]
    if measure.value is None:
        return Sentence(f"Base plus fog cannot be compared: {_why(measure)}", (name,))
    word = "more" if measure.value > 0 else "less"
    claim = f"{abs(measure.value):.2f} D {word} base plus fog than the reference"
    return _told(name, verdicts, "Base plus fog", claim, _range(measure, 2, unit=" D"))


def _told(name, verdicts, subject, claim, span):
    """The claim where it is real; else that it only reads so, or that no difference can be told."""
    verdict = verdicts[name]
    if verdict == "not distinguishable":
        text = f"{subject} cannot be told apart from the reference's ({span})."
    elif verdict == "real":
        text = f"{claim} ({span})."
    else:
        text = f"Reads {claim} ({span})" + (_WITHIN if verdict != "unknown" else ".")
    return Sentence(text, (name,))


def _shape(measures, verdicts):
    name = "shape_difference"
    measure = measures[name]
    if measure.value is None:
        return Sentence(f"The shape cannot be compared: {_why(measure)}", (name,))
    limit = "without a known limit" if measure.high is None else f"at most {measure.high:.3f} D"
    text = f"{_MATCHED}curves show no difference in shape ({limit} on average)."
    if verdicts[name] != "not distinguishable":
        verb = "differ" if verdicts[name] == "real" else "read as differing"
        text = f"{_MATCHED}curves {verb} by {measure.value:.3f} D on average"
        text += _WITHIN if verdicts[name] == "within the lab's spread" else "."
    return Sentence(text, (name,))


def _parts(names, measures, verdict):
    """Parts of the shape of one verdict, in one sentence."""
    told, before, verb = [], "", " are" if verdict == "real" else " read"
    for name in names:
        measure = measures[name]
        word = "denser" if measure.value > 0 else "thinner"
        span = _range(measure, 3, unit=" D")
        told.append(f"{before}{_PARTS[name]}{verb} {abs(measure.value):.3f} D {word} ({span})")
        before, verb = "the ", ""
    end = _WITHIN if verdict == "within the lab's spread" else "."
    return Sentence(f"{_MATCHED}{listed(told)}{end}", tuple(names))


def _range(measure, digits, factor=1.0, shift=0.0, unit=""):
    """Both ends; with a digit more where an end would read as none at all, which decides what may be said."""
    ends = [None if end is None else factor * (end - shift) for end in (measure.low, measure.high)]
    digits += any(end and not round(end, digits) for end in ends)
    low, high = ("open" if end is None else signed_number(end, digits) for end in ends)
    return f"{low} to {high}{unit}"


def _why(measure):
    """The reason why a measure is withheld, as the rest of a sentence."""
    text = REASONS.get(measure.reason, "it is withheld.")
    return text[0].lower() + text[1:]
