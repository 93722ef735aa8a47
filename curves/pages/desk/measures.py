"""About the measurements: every measure of the one registry, drawn and worked out on a sample curve."""

from dataclasses import dataclass

from django.shortcuts import render
from django.views.decorators.http import require_safe

from curves.pages.desk.sample import BOX_SPEED, OTHER_NAME, REFERENCE_NAME, worked_sample
from curves.pages.rolls.measure_groups import GROUPS, REST
from curves.sensitometry import (
    COMPARISON_MEASURES,
    ENGINE_VERSION,
    FLAGS,
    MEASURES,
    METHOD_MEASURES,
    REASONS,
    ROLL_MEASURES,
    VERDICTS,
    Measure,
    MeasureDefinition,
)

DIFFERENCES = "Differences from the reference"
BESIDE = "Beside the curve: development, brackets, prints, colour"
#: Figures at the head of a group: name of the figure, its title, and what to look for in it.
FIGURES: dict[str, tuple[tuple[str, str, str], ...]] = {
    "Speed": (
        (
            "speed",
            "Where speed is read",
            "From base plus fog, 0.10 up to the curve: the speed point. From there 1.30 to the right: how "
            "much density rises over that stretch is what the standard's contrast condition asks.",
        ),
    ),
    "Contrast": (
        (
            "contrast",
            "Two ways to read contrast",
            "The average gradient is a chord over 1.50. The contrast index is the slope of the one line from "
            "the base-plus-fog line whose two marks, at 0.2 and 2.2 along it, both lie on the curve.",
        ),
    ),
    "Shadows": (
        (
            "shape",
            "Toe, straight part, shoulder, useful range",
            "The straight part ends where the slope falls below nine tenths of gamma, on either side. What "
            "lies between the speed point and its start is the toe; what lies beyond its end, the shoulder.",
        ),
    ),
    DIFFERENCES: (
        (
            "difference",
            "Two films at equal exposure",
            f"{OTHER_NAME} needs less exposure for the same shadow, and rises less. Speed is how far apart "
            "the speed points lie; contrast is the ratio of the rises from there.",
        ),
        (
            "shape_difference",
            "The same two with their speed points laid together",
            "What a change of contrast cannot level out of this line is the shape that is left over, told "
            "apart into shadows, middle tones and highlights.",
        ),
    ),
}
#: What each verdict on a difference says, and what it does not.
VERDICT_WORDS = {
    "real": "The 95 % interval leaves no room for “no difference”, with reading error and the lab's own "
    "spread from roll to roll both counted in.",
    "within the lab's spread": "Beyond reading error, but rolls of one and the same film differ by as much "
    "in this lab.",
    "not distinguishable": "Not even beyond reading error. That is no proof that the two are the same.",
    "unknown": "The difference is withheld; or it is beyond reading error, and too little is known of the "
    "spread from roll to roll to judge it: a single roll on either side, and no spread of the lab's own; or "
    "the two stand under different standards.",
}


@dataclass(frozen=True)
class Explained:
    """One measure with its value on the sample and what may keep it from being stated."""

    definition: MeasureDefinition
    on_sample: Measure | None
    reasons: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Chapter:
    """A group of measures with the figures that show how they are read."""

    title: str
    figures: tuple[dict, ...]
    measures: tuple[Explained, ...]


@require_safe
def about(request):
    """Explain every measure, reason, flag and verdict; the page is open to all."""
    context = {
        "chapters": chapters(),
        "reasons": sorted(REASONS.items()),
        "flags": sorted(FLAGS.items()),
        "verdicts": [(verdict, VERDICT_WORDS[verdict]) for verdict in VERDICTS],
        "engine_version": ENGINE_VERSION,
        "sample_box_speed": BOX_SPEED,
        "sample_names": (REFERENCE_NAME, OTHER_NAME),
        "sample_steps": worked_sample().steps,
        "sentences": worked_sample().comparison.sentences,
    }
    return render(request, "curves/desk/measures.html", context)


def chapters() -> list[Chapter]:
    """Return all measures in groups, in the order in which a roll's page shows them."""
    grouped = {name for _, names in GROUPS for name in names}
    rest = tuple(name for name in ROLL_MEASURES if name not in grouped)
    groups = [*GROUPS, (REST, rest), (DIFFERENCES, COMPARISON_MEASURES), (BESIDE, METHOD_MEASURES)]
    return [_chapter(title, names) for title, names in groups if names]


def _chapter(title: str, names: tuple[str, ...]) -> Chapter:
    sample = worked_sample()
    values = sample.analysis.measures | sample.comparison.measures
    return Chapter(
        title=title,
        figures=tuple(
            {"id": f"figure-{name}", "title": heading, "words": words, "figure": sample.figures[name]}
            for name, heading, words in FIGURES.get(title, ())
        ),
        measures=tuple(
            Explained(
                definition=MEASURES[name],
                on_sample=values.get(name),
                reasons=tuple((code, REASONS[code]) for code in MEASURES[name].reasons),
            )
            for name in names
            if name in MEASURES
        ),
    )
