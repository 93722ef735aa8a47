"""How a stock renders colours, in plain words: lighter or darker than grey, and than the reference does.

A patch is called lighter or darker only where its interval leaves no other reading. The more patches are
looked at, the likelier one of them stands out by chance, so the interval that a claim needs grows with
their number. A difference is claimed as such only where its verdict is "real".
"""

from collections.abc import Mapping

from curves.sensitometry.codes import REASONS
from curves.sensitometry.comparing.colour_spread import ColourComparison
from curves.sensitometry.comparing.comparison import ALIKE, REAL, UNKNOWN, VERDICTS, WITHIN_SPREAD
from curves.sensitometry.comparing.word_scales import number_words, reach_of_many, stands_out
from curves.sensitometry.comparing.wording import Sentence, listed
from curves.sensitometry.measures import Measure

MOST_NAMED = 3  # in one list; the rest are counted, and the link leads to the numbers of all
#: The verb of each verdict, and what else is said: a difference that is not real only reads so.
_CLAIMED = {
    REAL: (("is", "are"), ""),
    WITHIN_SPREAD: (("reads", "read"), f", but {WITHIN_SPREAD}"),
    UNKNOWN: (("reads", "read"), ""),
}
_OPEN = (
    "Whether this is real is open: beyond reading error, but how far rolls of one stock differ in colour"
    " in this lab is not known yet."
)


def describe_colours(
    shifts: Mapping[str, Measure], light: str, *, is_one_roll: bool = False, is_beside_table: bool = False
) -> tuple[Sentence, ...]:
    """Say which patches a stock renders lighter or darker than a grey of their luminance.

    Parameters
    ----------
    shifts : mapping of str to Measure
        ``colour_shift`` [stop] by patch; positive where the print is lighter.
    light : str
        The light in a word.
    is_one_roll : bool
        Whether it is one roll of which this is known, and not how far others of the stock differ from it.
    is_beside_table : bool
        Whether the numbers, and why others are withheld, stand beside the words, which then are brief.

    Returns
    -------
    tuple of Sentence
        What can be told, then what is withheld, each reason once; empty without patches.
    """
    name, reach = "colour_shift", reach_of_many(shifts.values())
    known = [patch for patch, shift in shifts.items() if shift.value is not None]
    clear = [patch for patch in known if stands_out(shifts[patch], reach)]
    claims = _claims(clear, shifts, {} if is_beside_table else shifts, ("is rendered", "are rendered"))
    told = [f"{claims} than a grey of equal luminance"] if claims else []
    left = [patch for patch in known if patch not in clear]
    told += _left_open(left, shifts, bool(clear), "surely be told from grey")
    roll = " on the one roll that was read," if is_one_roll else ""
    said = [Sentence(f"By {light},{roll} {'; '.join(told)}.", (name,))] if told else []
    return (*said, *(() if is_beside_table else _withheld(shifts, "the rendering", name)))


def describe_colour_differences(
    compared: ColourComparison, light: str, *, is_beside_table: bool = False
) -> tuple[Sentence, ...]:
    """Say which patches are lighter or darker on a stock than on the reference, or only read so.

    Parameters
    ----------
    compared : ColourComparison
        ``colour_shift_difference`` [stop] by patch, positive where it is lighter than on the reference,
        and the verdicts.
    light : str
        The light in a word.
    is_beside_table : bool
        Whether the numbers, and why others are withheld, stand beside the words, which then are brief.

    Returns
    -------
    tuple of Sentence
        What can be told, whether that is real, then what is withheld, each reason once; empty without
        patches.
    """
    name, differences = "colour_shift_difference", compared.measures
    known = [patch for patch, measure in differences.items() if measure.value is not None]
    by_verdict = {
        verdict: [patch for patch in known if compared.verdicts[patch] == verdict] for verdict in VERDICTS
    }
    numbers, told = {} if is_beside_table else differences, []
    for verdict, (verbs, end) in _CLAIMED.items():
        if patches := by_verdict[verdict]:
            told.append(f"{_claims(patches, differences, numbers, verbs)} than on the reference{end}")
    apart = "surely be told apart from the reference’s"
    told += _left_open(by_verdict[ALIKE], differences, bool(told), apart)
    told += ["whether that is real is open"] if by_verdict[UNKNOWN] and is_beside_table else []
    said = [Sentence(f"By {light}, {'; '.join(told)}.", (name,))] if told else []
    if is_beside_table:
        return tuple(said)
    said += [Sentence(_OPEN, (name,))] if by_verdict[UNKNOWN] else []
    return (*said, *_withheld(differences, "the difference", name))


def _claims(
    patches: list[str],
    measures: Mapping[str, Measure],
    numbers: Mapping[str, Measure],
    verbs: tuple[str, str],
) -> str:
    """Patches by their side, the farthest first, with the numbers to be told: "A (…), B (…) are lighter"."""
    claims = []
    for side, sign in (("lighter", 1), ("darker", -1)):
        if own := [patch for patch in _farthest_first(patches, measures) if sign * measures[patch].value > 0]:
            told = [f"{patch} ({_stops(numbers[patch])})" if patch in numbers else patch for patch in own]
            verb = "" if claims else f" {verbs[len(own) > 1]}"
            claims.append(f"{_briefly(told)}{verb} {side}")
    return ", ".join(claims)


def _left_open(
    patches: list[str], measures: Mapping[str, Measure], is_some_told: bool, told_apart: str
) -> list[str]:
    if not patches:
        return []
    if not is_some_told:
        return [f"no patch can {told_apart}"]
    return [f"{_briefly(_farthest_first(patches, measures))} cannot {told_apart}"]


def _farthest_first(patches: list[str], measures: Mapping[str, Measure]) -> list[str]:
    return sorted(patches, key=lambda patch: -abs(measures[patch].value))


def _withheld(measures: Mapping[str, Measure], subject: str, name: str) -> tuple[Sentence, ...]:
    by_reason: dict[str, list[str]] = {}
    for patch, measure in measures.items():
        if measure.value is None:
            by_reason.setdefault(measure.reason, []).append(patch)
    return tuple(
        Sentence(
            f"Not known: {subject} of {_briefly(patches)}. {REASONS.get(reason, 'It is withheld.')}",
            (name,),
        )
        for reason, patches in by_reason.items()
    )


def _stops(measure: Measure) -> str:
    return number_words(measure, 2, "stop" if abs(measure.value) <= 1 else "stops", signed=True)


def _briefly(words: list[str]) -> str:
    more = len(words) - MOST_NAMED
    return listed(words if more <= 1 else [*words[:MOST_NAMED], f"{more} others"])
