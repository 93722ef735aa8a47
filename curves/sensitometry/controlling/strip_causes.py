"""Likely causes of what a control strip shows, from the pattern of its deviations.

All of this is common practice, no source: a pattern narrows the search down and proves nothing. Directions
are those of gross densities; ``+`` up, ``-`` down, ``0`` as usual.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass

BASIS = "common practice, no source"
UNKNOWN_NOTE = (
    "This pattern fits no usual cause. Read the strip again, then check time, temperature, agitation and "
    "the instrument's zero one after the other."
)


@dataclass(frozen=True, slots=True)
class Cause:
    """One likely cause.

    Parameters
    ----------
    key, title : str
        Key for programs and a short title.
    text : str
        What may have happened.
    check : str
        What to look at first.
    pattern : dict of str to str
        Directions allowed for each quantity; a quantity that is not named may be anything.
    onset : str
        ``sudden`` or ``gradual`` where the cause comes in that way alone, else empty.
    is_even : bool
        Whether all densities have to be moved by the same amount.
    """

    key: str
    title: str
    text: str
    check: str
    pattern: Mapping[str, str]
    onset: str = ""
    is_even: bool = False

    def to_dict(self) -> dict:
        """The fields as plain JSON values, with what they stand on."""
        return {**asdict(self), "pattern": dict(self.pattern), "basis": BASIS}


def _pattern(base_fog: str, speed_step: str, contrast: str, dmax: str) -> dict[str, str]:
    return {"base_fog": base_fog, "speed_step": speed_step, "contrast": contrast, "dmax": dmax}


_MORE = _pattern("0+", "0+", "+", "0+")
_LESS = _pattern("0-", "0-", "-", "0-")

CAUSES: tuple[Cause, ...] = (
    Cause(
        "zero_error", "The instrument's zero",
        "Every density is off by the same amount, as when the instrument was zeroed wrongly.",
        "Zero the densitometer on air and read the strip again.",
        _pattern("+-", "0+-", "0", "0+-"), is_even=True,
    ),
    Cause(
        "overdevelopment", "More development than usual",
        "Speed, contrast and maximum density rise together: longer time, warmer developer, more agitation "
        "or a stronger mix.",
        "Check the thermometer, the clock, how it was agitated, and the dilution.",
        _MORE, "sudden",
    ),
    Cause(
        "over_replenishment", "Developer growing stronger",
        "Development increased step by step: too much replenisher, or water lost from an open tank.",
        "Check the replenishment against the film that went through, and the level of the tank.",
        _MORE, "gradual",
    ),
    Cause(
        "underdevelopment", "Less development than usual",
        "Speed, contrast and maximum density fall together with normal fog: shorter time, colder developer, "
        "less agitation or a weaker mix.",
        "Check the thermometer, the clock, how it was agitated, and the dilution.",
        _LESS, "sudden",
    ),
    Cause(
        "exhaustion", "Exhausted developer",
        "Development decreased step by step with normal fog: the developer is used up or under-replenished.",
        "Count the films through it and its age; replenish, or mix it fresh.",
        _LESS, "gradual",
    ),
    Cause(
        "contamination", "Contaminated or oxidised developer",
        "Fog rises while contrast falls: fixer or stop bath carried into the developer, or the developer "
        "went off in the air.",
        "Look at its colour and smell, the caps and the order of the tanks; mix it fresh.",
        _pattern("+", "0+-", "-", "0-"),
    ),
    Cause(
        "light_fog", "Light fog",
        "Fog and the speed step rise while the high densities stay, so that contrast falls: stray light on "
        "the strip or the film.",
        "Look for a leak in the tank, the darkroom or the safelight; process an unexposed piece.",
        _pattern("+", "+", "0-", "0"),
    ),
    Cause(
        "veil", "An even veil: fixing, washing or stain",
        "Fog is up and the rest about as usual: an exhausted or short fix, a stain, or dye left in the film.",
        "Fix and wash the strip again and read it again; test the fixer.",
        _pattern("+", "0+", "0", "0+"),
    ),
    Cause(
        "bromide", "Bromide built up",
        "The speed step falls while contrast keeps up and fog is low: halide from much film holds the toe "
        "back; too little replenishment.",
        "Compare the replenishment with the film that went through.",
        _pattern("0-", "-", "0+", "0"), "gradual",
    ),
    Cause(
        "strip_exposure", "Exposure of the strip",
        "The speed step alone moved: the strips were exposed differently, or have aged.",
        "Process a strip from another package or a fresh exposure beside it.",
        _pattern("0", "+-", "0", "0"),
    ),
    Cause(
        "high_density_loss", "Loss in the highest density alone",
        "The maximum density is low and the rest about as usual: too little developer or agitation for "
        "much silver, bleaching in a long or strong fix, or an instrument at its limit.",
        "Check the volume per film, the time in the fix, and the instrument on a dense reference.",
        _pattern("0", "0", "0", "-"),
    ),
)  # fmt: skip


def likely_causes(directions: Mapping[str, str], onset: str = "", is_even: bool = False) -> tuple[Cause, ...]:
    """Causes whose pattern holds what was seen.

    Parameters
    ----------
    directions : mapping of str to str
        ``+``, ``-``, ``0`` or ``?`` (not read) for each quantity; the unread fit anything.
    onset : str
        ``sudden``, ``gradual`` or empty where it is not known.
    is_even : bool
        Whether base plus fog, speed step and maximum density moved by the same amount.

    Returns
    -------
    tuple of Cause
        In the order of the table; empty where no pattern fits or nothing moved.

    Examples
    --------
    >>> seen = {"base_fog": "0", "speed_step": "+", "contrast": "+", "dmax": "+"}
    >>> [cause.key for cause in likely_causes(seen, "sudden")]
    ['overdevelopment']
    """
    if not set(directions.values()) & {"+", "-"}:
        return ()
    return tuple(cause for cause in CAUSES if _fits(cause, directions, onset, is_even))


def _fits(cause: Cause, directions: Mapping[str, str], onset: str, is_even: bool) -> bool:
    if cause.is_even and not is_even:
        return False
    if onset and cause.onset and cause.onset != onset:
        return False
    return all(
        directions.get(quantity, "?") in (*allowed, "?") for quantity, allowed in cause.pattern.items()
    )
