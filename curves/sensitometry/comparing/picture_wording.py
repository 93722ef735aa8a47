"""What a stock's grain and sharpness are like in plain words, never beyond their intervals.

The words and their limits are a house choice, for the lab's own way of scanning.
"""

from collections.abc import Mapping

from curves.sensitometry.codes import REASONS
from curves.sensitometry.comparing.word_scales import Scale, number_words, scale_word
from curves.sensitometry.comparing.wording import Sentence
from curves.sensitometry.measures import Measure

GRAIN = Scale(
    "rms_granularity", (8.0, 11.0, 15.0, 20.0), ("very fine", "fine", "medium", "coarse", "very coarse")
)
SHARPNESS = Scale("film_mtf50", (25.0, 40.0, 60.0), ("low", "medium", "high", "very high"))
NEVER_SAID = ("NOT_MEASURED",)


def describe_pictures(pictures: Mapping[str, Measure]) -> tuple[Sentence, ...]:
    """Say what grain and sharpness are like; nothing of what nobody has measured.

    Parameters
    ----------
    pictures : mapping of str to Measure
        ``rms_granularity`` [1000 D] and ``film_mtf50`` [cycles/mm], each as far as there is one.

    Returns
    -------
    tuple of Sentence
    """
    said = (
        _said(pictures.get(GRAIN.name), GRAIN, "Grain is {word} (RMS granularity {value}).",
              "How coarse the grain is stays open: RMS granularity {value}.", "grain", ""),
        _said(pictures.get(SHARPNESS.name), SHARPNESS, "Sharpness is {word} (half modulation at {value}).",
              "How sharp it is stays open: half modulation at {value}.", "sharpness", "cycles/mm"),
    )  # fmt: skip
    return tuple(sentence for sentence in said if sentence is not None)


def measured_pictures(pictures: Mapping[str, Measure]) -> frozenset[str]:
    """Which of grain and sharpness are measured.

    Parameters
    ----------
    pictures : mapping of str to Measure
        As in `describe_pictures`.

    Returns
    -------
    frozenset of str
        Of ``grain`` and ``sharpness`` those of which something can be said.
    """
    subjects = {GRAIN.name: "grain", SHARPNESS.name: "sharpness"}
    return frozenset(
        subject
        for name, subject in subjects.items()
        if name in pictures and pictures[name].reason not in NEVER_SAID
    )


def _said(
    measure: Measure | None, scale: Scale, claim: str, is_open: str, subject: str, unit: str
) -> Sentence | None:
    if measure is None or measure.reason in NEVER_SAID:
        return None
    if measure.value is None:
        why = REASONS.get(measure.reason, "It is withheld.")
        return Sentence(f"Not known: {subject}. {why}", (scale.name,))
    word, value = scale_word(scale, measure), number_words(measure, 0 if unit else 1, unit)
    text = claim.format(word=word, value=value) if word else is_open.format(value=value)
    return Sentence(text, (scale.name,))
