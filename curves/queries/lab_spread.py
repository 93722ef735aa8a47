"""The page of the lab's own spread: where it comes from, what would shrink it, and what it rests on."""

from dataclasses import dataclass

from curves.models import SpreadEstimate
from curves.queries.comparison import StandardPair, standard_pairs
from curves.sensitometry import Measure
from curves.sensitometry.comparing.lab_spread import FEWEST_DEGREES_OF_FREEDOM
from curves.sensitometry.controlling.lab_plans import LabPlan, lab_plan
from curves.sensitometry.controlling.planning import THIRD_OF_A_STOP, Design
from curves.sensitometry.controlling.variance_components import VarianceComponents
from labsite.common.errors import NotFound
from labsite.jobs.models import Job

MEASURES = {
    "speed_shift_stops": "Speed",
    "contrast_ratio": "Contrast",
    "toe_difference": "Shape: shadows",
    "middle_difference": "Shape: middle tones",
    "highlight_difference": "Shape: highlights",
    "base_difference": "Base plus fog",
}
LEVELS = ("member", "run", "roll", "strip", "reading")
#: What the lab wants to see: a third of a stop, and 3 % of contrast.
WANTED = {"speed_shift_stops": THIRD_OF_A_STOP, "contrast_ratio": 3.0}
MOST_EARLIER = 20


@dataclass(frozen=True)
class SpreadLine:
    """One measure with what each level adds to its spread."""

    name: str
    title: str
    unit: str
    found: VarianceComponents
    model: tuple[str, ...]

    @property
    def components(self) -> tuple[Measure, ...]:
        """In the order of the levels."""
        return tuple(self.found.components[level] for level in LEVELS)


@dataclass(frozen=True)
class SpreadPlan:
    """What the lab can do about one measure."""

    name: str
    title: str
    plan: LabPlan


@dataclass(frozen=True)
class SpreadView:
    """Everything that the page shows for one pair of standards."""

    pairs: tuple[StandardPair, ...]
    pair: StandardPair | None
    estimate: SpreadEstimate | None = None
    lines: tuple[SpreadLine, ...] = ()
    plans: tuple[SpreadPlan, ...] = ()
    usual: Design | None = None
    earlier: tuple[SpreadEstimate, ...] = ()
    job: Job | None = None

    @property
    def counts(self) -> dict[str, int]:
        """What the estimate rests on."""
        return self.estimate.basis.get("counts", {}) if self.estimate else {}

    @property
    def is_told(self) -> bool:
        """Whether anything could be told apart."""
        return any(line.model for line in self.lines)

    @property
    def rolls_lacking(self) -> int:
        """How many more rolls of stocks that have some already would be a beginning."""
        counts = self.counts
        return max(FEWEST_DEGREES_OF_FREEDOM - (counts.get("rolls", 0) - counts.get("stocks", 0)), 0)


def spread_view(user, *, pair_key: str = "") -> SpreadView:
    """Return where the lab's spread under one pair of standards comes from; the same few queries always."""
    pairs = standard_pairs(user)
    pair = _chosen(pairs, pair_key)
    if pair is None:
        return SpreadView(pairs, None)
    estimates = SpreadEstimate.objects.filter(**pair.ids).defer("entries")
    estimate = estimates.filter(is_current=True).first()
    key = f"estimate_spread:{pair.process_revision_id}:{pair.exposure_revision_id}"
    job = Job.objects.filter(dedupe_key=key).exclude(state__in=Job.ENDED).first()
    if estimate is None:
        return SpreadView(pairs, pair, job=job)
    lines = tuple(_lines(estimate))
    usual = _usual(estimate)
    return SpreadView(
        pairs=pairs,
        pair=pair,
        estimate=estimate,
        lines=lines,
        plans=tuple(_plans(lines, usual)),
        usual=usual,
        earlier=tuple(estimates.defer("entries", "basis").exclude(pk=estimate.pk)[:MOST_EARLIER]),
        job=job,
    )


def _chosen(pairs: tuple[StandardPair, ...], key: str) -> StandardPair | None:
    if not key:
        return pairs[0] if pairs else None
    chosen = next((pair for pair in pairs if pair.key == key), None)
    if chosen is None:
        raise NotFound("There is no result under these standards, or they are not open to you.")
    return chosen


def _lines(estimate: SpreadEstimate):
    """None where the estimate is of an older engine, which knew rolls alone."""
    components = estimate.basis.get("components", {})
    for name, title in MEASURES.items():
        if name in components:
            found = VarianceComponents.from_dict(components[name])
            unit = next(iter(found.components.values())).unit
            yield SpreadLine(name, title, unit, found, tuple(estimate.basis["models"][name]))


def _usual(estimate: SpreadEstimate) -> Design:
    """A stock's rolls as most have them, each in a run of its own."""
    habit = estimate.basis.get("habit", {})
    return Design(
        runs=habit.get("rolls", 1),
        strips=habit.get("strips", 1),
        readings=habit.get("readings", 1),
        shares_runs=False,
    )


def _plans(lines: tuple[SpreadLine, ...], usual: Design):
    for line in lines:
        if line.name in WANTED:
            plan = lab_plan(line.found, line.model, usual, WANTED[line.name])
            if plan is not None:
                yield SpreadPlan(line.name, line.title, plan)


def spread_rows(user, pair_key: str) -> list[dict]:
    """Return every curve that the current estimate rests on: its run, roll and strip, and its values."""
    view = spread_view(user, pair_key=pair_key)
    if view.estimate is None:
        return []
    return [row for entry in view.estimate.entries for row in entry["rows"]]
