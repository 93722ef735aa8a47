"""What a stock is like, in plain words: each clause with the measures it rests on, none beyond its interval.

A clause is said outright where the whole interval bears it, as "a to b" where the interval spans two words,
as open where it spans more, and as not known, with the reason, where the measure is withheld. The words and
their limits are a house choice.
"""

from collections.abc import Mapping
from math import inf, isinf
from types import MappingProxyType

from curves.sensitometry.analysis import Analysis
from curves.sensitometry.codes import REASONS
from curves.sensitometry.comparing.colour_wording import describe_colours
from curves.sensitometry.comparing.picture_wording import describe_pictures, measured_pictures
from curves.sensitometry.comparing.word_scales import (
    WORD_REACH,
    Scale,
    number_words,
    reach_ends,
    scale_span,
    span_word,
)
from curves.sensitometry.comparing.wording import Sentence, listed
from curves.sensitometry.measures import Measure

SPEED = "box_difference_stops"
NEAR_BOX = 1 / 3  # stop: a step of film speeds, and of the dials they are set on
CONTRAST = Scale(
    "average_gradient_150", (0.45, 0.55, 0.70, 0.90), ("very low", "low", "medium", "high", "very high")
)
# Shadow gradient as a share of the average gradient: what the toe takes from the first stop and a third.
TOE = Scale("toe_chord_gradient", (0.65, 0.85), ("long and soft", "medium", "short"))
HIGHLIGHTS = Scale("highlight_gradient", (0.25, 0.45), ("weak", "moderate", "strong"))


def describe_stock(
    analysis: Analysis,
    *,
    pictures: Mapping[str, Measure] = MappingProxyType({}),
    colours: Mapping[str, Measure] = MappingProxyType({}),
    light: str = "",
    is_one_roll: bool = False,
    is_beside_table: bool = False,
) -> tuple[Sentence, ...]:
    """Say what a stock is like by itself, and what is not known.

    Parameters
    ----------
    analysis : Analysis
        A stock's result.
    pictures : mapping of str to Measure
        Grain [1000 D] and sharpness [cycles/mm] as far as pictures of the stock tell of them.
    colours : mapping of str to Measure
        Shift from grey of each patch that was read [stop].
    light : str
        The light in which patches were read, in a word.
    is_one_roll : bool
        Whether shifts are of one roll, and how far others of the stock differ from it is not known.
    is_beside_table : bool
        Whether the numbers of the patches stand beside the words.

    Returns
    -------
    tuple of Sentence
        Speed against the box, contrast, toe, straight part or arc, highlights and shoulder, colour, grain,
        sharpness, what is open.
    """
    measures = analysis.measures
    sentences = [
        _speed(measures),
        _contrast(measures),
        _straight(measures),
        _toe(measures),
        _highlights(measures),
        _shoulder(analysis),
        *describe_colours(colours, light, is_one_roll=is_one_roll, is_beside_table=is_beside_table),
        *describe_pictures(pictures),
    ]
    found = [sentence for sentence in sentences if sentence is not None]
    measured = measured_pictures(pictures) | ({"colour"} if colours else set())
    return (*found, *_unknown(measures, found, measured))


def _speed(measures) -> Sentence | None:
    measure = measures[SPEED]
    if measure.value is None:
        return None
    value = number_words(measure, 2, "stop" if abs(measure.value) <= 1 else "stops", signed=True)
    return Sentence(f"{_beside_box(measure)}: {value}.", (SPEED,))


def _beside_box(measure: Measure) -> str:
    """What the interval bears out, the most telling first: nearness, a side, else what is probable."""
    subject, box = "The exposure index", "the speed on the box"
    (least, most), (low, high) = _closed(*reach_ends(measure)), _closed(measure.low, measure.high)
    if least > -NEAR_BOX and most < NEAR_BOX:
        return f"{subject} is within a third of a stop of {box}"
    if least > 0 or most < 0:
        return f"{subject} is {'above' if least > 0 else 'below'} {box}"
    if (isinf(high) and least > -NEAR_BOX) or (isinf(low) and most < NEAR_BOX):
        return f"{subject} is at {box}, to a third of a stop, or {'above' if isinf(high) else 'below'} it"
    if (low < -NEAR_BOX and high > NEAR_BOX) or isinf(low) or isinf(high):
        return f"How speed stands to {box} is open"
    if low > 0 or high < 0:
        return f"{subject} is probably {'above' if low > 0 else 'below'} {box}"
    return f"{subject} cannot be told apart from {box}"


def _closed(low: float | None, high: float | None) -> tuple[float, float]:
    """The same ends, open ones infinitely far away."""
    return -inf if low is None else low, inf if high is None else high


def _contrast(measures) -> Sentence | None:
    measure = measures[CONTRAST.name]
    if measure.value is None:
        return None
    word = span_word(CONTRAST, scale_span(CONTRAST, measure))
    value = f"average gradient {number_words(measure, 2)}"
    text = f"Contrast at this development is {word} ({value})." if word else f"Contrast is open: {value}."
    return Sentence(text, (CONTRAST.name,))


def _straight(measures) -> Sentence | None:
    gamma, extent = measures["gamma"], measures["straight_extent"]
    if gamma.value is None:
        if gamma.reason != "NO_STRAIGHT_PART":
            return None
        text = "The curve reads as an arc: no four neighbouring steps lie on a line within 0.02 D."
        return Sentence(text, ("gamma",))
    if extent.value is None:
        return Sentence(f"It has a straight part of gamma {number_words(gamma, 2)}.", ("gamma",))
    length = number_words(extent, 2)
    text = f"It has a straight part of gamma {number_words(gamma, 2)}, {length} log exposure long."
    return Sentence(text, ("gamma", "straight_extent"))


def _toe(measures) -> Sentence | None:
    """The toe by the share of contrast that it leaves to the shadows.

    The two gradients are read off one curve and err together, so errors in quadrature are on the safe side.
    """
    shadows, average = measures[TOE.name], measures[CONTRAST.name]
    if None in (shadows.value, average.value, shadows.low, shadows.high, average.low, average.high):
        return None
    share = shadows.value / average.value
    errors = [(measure.high - measure.low) / 2 / measure.value for measure in (shadows, average)]
    half = WORD_REACH * share * (errors[0] ** 2 + errors[1] ** 2) ** 0.5
    word = span_word(TOE, tuple(range(TOE.place(share - half), TOE.place(share + half) + 1)))
    kept = f"shadows have {100 * share:.0f} % of the average contrast"
    text = f"The toe is {word}: {kept}."
    if word is None:
        text = f"How long the toe is stays open: {kept}, but that is not well known."
    return Sentence(text, (TOE.name, CONTRAST.name))


def _highlights(measures) -> Sentence | None:
    measure = measures[HIGHLIGHTS.name]
    if measure.value is None:
        return None
    word = span_word(HIGHLIGHTS, scale_span(HIGHLIGHTS, measure))
    value = f"gradient {number_words(measure, 2)} between 1.8 and 2.4 above the speed point"
    if word is None:
        return Sentence(f"How well highlights separate is open: {value}.", (HIGHLIGHTS.name,))
    return Sentence(f"Highlights separate with {word} contrast ({value}).", (HIGHLIGHTS.name,))


def _shoulder(analysis: Analysis) -> Sentence | None:
    onset, place = analysis.measures["shoulder_onset"], analysis.measures["speed_point_log_exposure"]
    if place.value is None or not analysis.curve.log_exposure.size:
        return None
    reach = float(analysis.curve.log_exposure[-1]) - place.value
    if onset.value is None:
        if onset.reason != "NOT_REACHED" or reach <= 0:
            return None
        text = f"No shoulder was found within {reach:.1f} log exposure above the speed point."
        return Sentence(text, ("shoulder_onset",))
    distance = onset.value - place.value
    if distance <= 0 or onset.low is None or onset.high is None:
        return None
    ends = f"[{onset.low - place.value:.1f} to {onset.high - place.value:.1f}]".replace("-", "−")
    text = f"Contrast begins to fall at about {distance:.1f} {ends} log exposure above the speed point."
    return Sentence(text, ("shoulder_onset", "speed_point_log_exposure"))


def _unknown(measures, found, measured) -> tuple[Sentence, ...]:
    """What the data leave open, each reason once, and what nobody has measured."""
    said = {name for sentence in found for name in sentence.measure_names}
    subjects = {
        SPEED: "speed against the box",
        CONTRAST.name: "contrast",
        TOE.name: "the toe",
        HIGHLIGHTS.name: "highlights",
    }
    by_reason: dict[str, list[str]] = {}
    for name in subjects:
        if name not in said:
            # The toe is told by two gradients: where its own is known, it is the average that is withheld.
            reason = measures[name].reason or measures[CONTRAST.name].reason
            by_reason.setdefault(reason, []).append(name)
    open_sentences = []
    for reason, names in by_reason.items():
        words = listed([subjects[name] for name in names])
        why = REASONS.get(reason, "It is withheld.")
        open_sentences.append(Sentence(f"Not known: {words}. {why}", tuple(names)))
    missing = [name for name in ("colour", "grain", "sharpness") if name not in measured]
    if missing:
        names = {"colour": "colour response"}
        words = listed([names.get(name, name) for name in missing])
        open_sentences.append(Sentence(f"Not measured here: {words}.", ()))
    return tuple(open_sentences)
