"""How a kinship is shown: each measure's difference with its interval, and what it amounts to in words."""

import math
from dataclasses import dataclass

from curves.sensitometry import MEASURES, REASONS
from curves.sensitometry.comparing.equivalence import EquivalenceResult, Margin
from curves.sensitometry.comparing.near_relatives import OPEN, OTHER, SAME, STAND_IN, Kinship
from curves.sensitometry.comparing.wording import listed
from curves.sensitometry.number_text import signed_number
from labsite.templatetags.measures import number_text

SUBJECTS = {
    "speed_shift_stops": ("speed", 2, " stops"),
    "contrast_ratio": ("contrast", 1, " %"),
    "toe_difference": ("shadows", 3, " D"),
    "middle_difference": ("middle tones", 3, " D"),
    "highlight_difference": ("highlights", 3, " D"),
}


@dataclass(frozen=True)
class KinCell:
    """One measure of a kinship; ``reason`` says why it has no number, or a number without a verdict."""

    name: str
    text: str
    interval: str
    verdict: str
    reason: str


def kin_headings(margins: dict[str, Margin]) -> list[dict]:
    """Return the headings of the measures with their margins in words."""
    return [
        {"title": MEASURES[name].title, "subject": subject.capitalize(), "margin": margin_text(name, margin)}
        for name, margin in margins.items()
        for subject in [SUBJECTS[name][0]]
    ]


def margin_text(name: str, margin: Margin) -> str:
    """Return a margin in the unit that people read it in."""
    _, decimals, unit = SUBJECTS[name]
    width = 100 * margin.width if margin.is_ratio else margin.width
    return f"± {number_text(width, 0 if margin.is_ratio else decimals)}{unit}"


def kin_cells(kinship: Kinship) -> list[KinCell]:
    """Return each measure's difference, 90 % interval and verdict."""
    return [_cell(name, result) for name, result in kinship.relation.results.items()]


def _cell(name: str, result: EquivalenceResult) -> KinCell:
    measure = result.difference
    if measure.value is None:
        why = REASONS.get(measure.reason, "It could not be tested.")
        return KinCell(name, "", "", "not tested", f"{why} {measure.note}".strip())
    value, low, high = (_shown(name, each) for each in (measure.value, measure.low, measure.high))
    interval = f"({low} to {high})"
    if result.is_without_verdict:
        return KinCell(name, value, interval, "", f"No verdict: {measure.note}.")
    return KinCell(name, value, interval, result.verdict, "")


def _shown(name: str, value: float) -> str:
    _, decimals, _ = SUBJECTS[name]
    shown = 100 * math.expm1(value) if name == "contrast_ratio" else value
    return signed_number(shown, decimals)


def kin_sentence(kinship: Kinship, *, second: str = "", first: str = "") -> str:
    """Return what the kinship amounts to, never more than was shown; with names in lists of pairs."""
    results = kinship.relation.results
    if kinship.kind == SAME:
        alike = "Alike in every measure within the margins: could be the same emulsion."
        if not kinship.slightly_differing:
            return alike
        shown = listed([SUBJECTS[name][0] for name in kinship.slightly_differing])
        return f"{alike} Yet a smaller difference is shown in {shown}, as between batches or between films."
    differing = [SUBJECTS[name][0] for name in kinship.differing]
    who = f"{second} could stand in for {first}" if second else "Could stand in"
    if kinship.kind == STAND_IN:
        speed = results["speed_shift_stops"].difference
        if speed.value is None:
            return "Contrast is alike and no part of the shape is shown to differ; speed is not known."
        if "speed_shift_stops" in kinship.differing:
            size = number_text(abs(speed.value), 1)
            way = "more" if speed.value > 0 else "less"
            return f"{who} with {size} stops {way} exposure; contrast is alike."
        return f"{who}: contrast is alike, and no difference beyond the margins is shown elsewhere."
    if kinship.kind == OTHER:
        return f"Different in {listed(differing)}."
    if kinship.is_of_too_few:
        return "No verdict from a single roll: two rolls of each stock are needed."
    return "Neither sameness nor difference is shown; more rolls would tell."


def kind_words(kinship: Kinship) -> str:
    """Return the kind in a word or two, for a table."""
    if kinship.is_of_too_few:
        return "no verdict"
    return {SAME: "same?", STAND_IN: "stand-in", OTHER: "different", OPEN: "not shown"}[kinship.kind]
