"""How a stock renders colours, in plain words: lighter or darker than grey, and than the reference does.

A patch is called lighter or darker only where its interval leaves no other reading. The more patches are
looked at, the likelier one of them stands out by chance, so the interval that a claim needs grows with
their number. How far rolls of one stock differ in colour is not known, so no difference is called real.
"""

from collections.abc import Mapping

from scipy.special import ndtr, ndtri

from curves.sensitometry.codes import REASONS
from curves.sensitometry.comparing.word_scales import WORD_REACH, number_words, reach_ends
from curves.sensitometry.comparing.wording import Sentence, listed
from curves.sensitometry.intervals import Z95
from curves.sensitometry.measures import Measure

MOST_NAMED = 3  # in one list; the rest are counted, and the link leads to the numbers of all
_OPEN = (
    "Whether this is real is open: beyond reading error, but how far rolls of one stock differ in colour"
    " is not known in this lab."
)


def describe_colours(
    shifts: Mapping[str, Measure], light: str, *, is_beside_table: bool = False
) -> tuple[Sentence, ...]:
    """Say which patches a stock renders lighter or darker than a grey of their luminance.

    Parameters
    ----------
    shifts : mapping of str to Measure
        ``colour_shift`` [stop] by patch; positive where the print is lighter.
    light : str
        The light in a word.
    is_beside_table : bool
        Whether the numbers, and why others are withheld, stand beside the words, which then are brief.

    Returns
    -------
    tuple of Sentence
        What can be told, then what is withheld, each reason once; empty without patches.
    """
    name = "colour_shift"
    sides = _sides(shifts)
    claims = _claims(sides, {} if is_beside_table else shifts, ("is rendered", "are rendered"))
    told = [f"{claims} than a grey of equal luminance"] if claims else []
    told += _left_open(sides, "surely be told from grey")
    said = [Sentence(f"By {light}, {'; '.join(told)}.", (name,))] if told else []
    return (*said, *(() if is_beside_table else _withheld(shifts, "the rendering", name)))


def describe_colour_differences(
    differences: Mapping[str, Measure], light: str, *, is_beside_table: bool = False
) -> tuple[Sentence, ...]:
    """Say which patches read lighter or darker on a stock than on the reference.

    Parameters
    ----------
    differences : mapping of str to Measure
        ``colour_shift_difference`` [stop] by patch; positive where it is lighter than on the reference.
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
    name = "colour_shift_difference"
    sides = _sides(differences)
    claims = _claims(sides, {} if is_beside_table else differences, ("reads", "read"))
    told = [f"{claims} than on the reference"] if claims else []
    told += _left_open(sides, "surely be told apart from the reference’s")
    told += ["whether that is real is open"] if claims and is_beside_table else []
    said = [Sentence(f"By {light}, {'; '.join(told)}.", (name,))] if told else []
    if is_beside_table:
        return tuple(said)
    said += [Sentence(_OPEN, (name,))] if claims else []
    return (*said, *_withheld(differences, "the difference", name))


def _sides(measures: Mapping[str, Measure]) -> dict[str, list[str]]:
    """Patches that are lighter, darker, and those ("") of which neither can be claimed; the farthest first.

    An interval is widened so that, of all patches together, no more claims are false than of one number
    that words are chosen by (Bonferroni).
    """
    known = {patch: measure for patch, measure in measures.items() if measure.value is not None}
    reach = -float(ndtri(ndtr(-WORD_REACH * Z95) / max(len(known), 1))) / Z95
    sides: dict[str, list[str]] = {"lighter": [], "darker": [], "": []}
    for patch, measure in sorted(known.items(), key=lambda each: -abs(each[1].value)):
        low, high = reach_ends(measure, reach)
        is_lighter, is_darker = low is not None and low > 0, high is not None and high < 0
        sides["lighter" if is_lighter else "darker" if is_darker else ""].append(patch)
    return sides


def _claims(sides: dict[str, list[str]], numbers: Mapping[str, Measure], verbs: tuple[str, str]) -> str:
    """The claims that intervals bear, with the numbers to be told: "A (…) and B (…) are … lighter"."""
    claims = []
    for side in ("lighter", "darker"):
        if patches := sides[side]:
            told = [f"{patch} ({_stops(numbers[patch])})" if patch in numbers else patch for patch in patches]
            verb = "" if claims else f" {verbs[len(patches) > 1]}"
            claims.append(f"{_briefly(told)}{verb} {side}")
    return ", ".join(claims)


def _left_open(sides: dict[str, list[str]], told_apart: str) -> list[str]:
    if not sides[""]:
        return []
    if not sides["lighter"] and not sides["darker"]:
        return [f"no patch can {told_apart}"]
    return [f"{_briefly(sides[''])} cannot {told_apart}"]


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
