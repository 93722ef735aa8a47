"""Control charts of a process revision: a point a run, held against the aims that its strips were held to."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

import numpy as np

from curves.models import ChartNote, ControlAims, ProcessRevision, RevisionState, StripJudgement
from curves.queries.control_strips import revisions_with_strips
from curves.queries.strip_windows import PLACES, StripPoint, standing_strips, strip_points
from curves.sensitometry.controlling.aims import QuantityAim, StripAims
from curves.sensitometry.controlling.chart_form import Chart, ChartPhase
from curves.sensitometry.controlling.charts import individuals_charts
from curves.sensitometry.controlling.control_strips import QUANTITIES, READING_SD
from curves.sensitometry.controlling.mean_charts import mean_range_charts
from curves.sensitometry.controlling.memory_charts import cusum_charts, ewma_chart
from curves.sensitometry.controlling.rule_definitions import RULE_SETS, RuleSet
from curves.sensitometry.controlling.within_spread import spread_from_sample_ranges
from labsite.common.access import require_member
from labsite.common.errors import NotFound

KINDS = {
    "individuals": "Single runs and moving range",
    "means": "Means and ranges of replicates",
    "ewma": "Weighted moving average (EWMA)",
    "cusum": "Cumulative sums (CUSUM)",
}
#: Of the weighted moving average and the cumulative sums. Common practice, no source.
EWMA_WEIGHT, CUSUM_ALLOWANCE, CUSUM_DECISION = 0.2, 0.5, 5.0


@dataclass(frozen=True, slots=True)
class ChartPoint:
    """One run on the chart."""

    point: StripPoint
    aims: ControlAims | None
    state: str
    phase: str

    @property
    def aim(self) -> StripAims | None:
        """The engine's own aims."""
        return self.aims.engine_aims if self.aims else None


@dataclass(frozen=True)
class ControlChartView:
    """Everything that the page of the charts shows."""

    revisions: tuple[ProcessRevision, ...]
    revision: ProcessRevision | None
    quantity: str
    kind: str
    rule_set: RuleSet
    points: tuple[ChartPoint, ...] = ()
    charts: tuple[Chart, ...] = ()
    notes: tuple[ChartNote, ...] = ()
    withheld: str = ""

    @property
    def title(self) -> str:
        """What is charted."""
        return QUANTITIES[self.quantity]


def control_charts(
    user, *, revision_id: int | None = None, quantity: str = "", kind: str = "", rules: str = ""
) -> ControlChartView:
    """Return the charts of one quantity under a process revision; the same few queries for any number."""
    require_member(user)
    revisions = tuple(revisions_with_strips())
    revision = _chosen(revisions, revision_id)
    quantity, kind = quantity or "speed_step", kind or "individuals"
    if quantity not in QUANTITIES or kind not in KINDS or (rules and rules not in RULE_SETS):
        raise NotFound("There is no such chart. Choose from the lists.")
    if revision is None:
        return ControlChartView(revisions, None, quantity, kind, RULE_SETS[rules or "western_electric"])
    aims = _aims_of(revision)
    rules = rules or _rules_in_force(aims)
    points = _named_phases(list(_points(revision, aims)))
    charts, withheld = CHARTS[kind](points, quantity, rules)
    return ControlChartView(
        revisions=revisions,
        revision=revision,
        quantity=quantity,
        kind=kind,
        rule_set=RULE_SETS[rules],
        points=points,
        charts=charts,
        notes=tuple(ChartNote.objects.filter(process_revision=revision).select_related("author")),
        withheld=withheld,
    )


def _chosen(revisions: Sequence[ProcessRevision], revision_id: int | None) -> ProcessRevision | None:
    if revision_id is None:
        return revisions[0] if revisions else None
    chosen = next((each for each in revisions if each.pk == revision_id), None)
    if chosen is None:
        chosen = ProcessRevision.objects.select_related("standard").filter(pk=revision_id).first()
    if chosen is None or chosen.state == RevisionState.DRAFT:
        raise NotFound("No strip was read under this process revision.")
    return chosen


def _aims_of(revision: ProcessRevision) -> list[ControlAims]:
    """Oldest first, each with the engine's own aims beside it."""
    aims = list(
        ControlAims.objects.filter(process_revision=revision)
        .exclude(state=RevisionState.DRAFT)
        .order_by("number")
    )
    for each in aims:
        each.engine_aims = StripAims.from_dict(each.aims)
    return aims


def _rules_in_force(aims: list[ControlAims]) -> str:
    return next((each.rules for each in reversed(aims) if each.state == "in_force"), "western_electric")


def _points(revision: ProcessRevision, aims: list[ControlAims]):
    """Each run with the aims that it was judged by, or those that its batch of strips had first."""
    by_id = {each.pk: each for each in aims}
    first: dict[int, ControlAims] = {}
    for each in aims:
        first.setdefault(each.strip_batch_id, each)
    judged = {
        (run_id, batch_id): (aims_id, state)
        for run_id, batch_id, aims_id, state in StripJudgement.objects.filter(
            is_current=True, run__revision=revision
        ).values_list("run_id", "strip_batch_id", "aims_id", "state")
    }
    for point in strip_points(standing_strips().filter(run__revision=revision)):
        aims_id, state = judged.get((point.run_id, point.batch_id), (None, "unproven"))
        held_against = by_id.get(aims_id) or first.get(point.batch_id)
        yield ChartPoint(point, held_against, state, "")


def _named_phases(points: list[ChartPoint]) -> tuple[ChartPoint, ...]:
    """Name each phase by what differs from others: strips, developer batch, aims."""
    parts = [
        (
            f"strips {each.point.strip.strip_batch}",
            each.point.strip.developer_batch or "developer not named",
            f"aims {each.aims.number}" if each.aims else "no aims",
        )
        for each in points
    ]
    differing = [place for place in range(3) if len({part[place] for part in parts}) > 1] or [1]
    return tuple(
        replace(each, phase=" · ".join(part[place] for place in differing))
        for each, part in zip(points, parts, strict=True)
    )


def _individuals(points, quantity: str, rules: str) -> tuple[tuple[Chart, ...], str]:
    def charted(stretch: Sequence[ChartPoint], aim: QuantityAim | None) -> tuple[Chart, Chart]:
        values, labels = _values(stretch, quantity), [each.phase for each in stretch]
        if aim is None:
            return individuals_charts(values, phase=labels, least_sd=READING_SD, rules=rules)
        sd = aim.action / 3
        _, ranges = individuals_charts(
            values, centre=aim.centre.value, standard_deviation=sd, phase=labels, rules=rules
        )
        return _against(aim, values, stretch, labels, rules), replace(ranges, phases=_of_aim(ranges, aim))

    return _joined(points, quantity, charted), ""


def _against(aim: QuantityAim, values, stretch, labels, rules: str) -> Chart:
    """The chart whose signals are those of the verdicts: on the scale of the aim's own limits."""
    centre, count = aim.centre.value, len(stretch)
    deviations = values - centre
    untold = np.array([each.point.strip.uncertainty(aim.quantity) for each in stretch])
    with np.errstate(invalid="ignore"):
        # What the reading itself cannot tell lies on neither side, as in a strip's verdict.
        scores = np.where(np.abs(deviations) < untold, 0.0, aim.score(deviations))
    chart, _ = individuals_charts(scores, centre=0.0, standard_deviation=1.0, phase=labels, rules=rules)

    def line(reach: float) -> np.ndarray:
        return np.full(count, centre + reach)

    return replace(
        chart,
        unit="D",
        values=values,
        centre=line(0.0),
        warning_low=line(-aim.warning),
        warning_high=line(aim.warning),
        action_low=line(-aim.action),
        action_high=line(aim.action),
        phases=_of_aim(chart, aim),
        note="aim with its warning and action limits; without aims, from moving ranges",
    )


def _of_aim(chart: Chart, aim: QuantityAim) -> tuple[ChartPhase, ...]:
    return tuple(
        replace(each, centre=aim.centre.value, spread=aim.spread, note="as the aims have it")
        for each in chart.phases
    )


def _means(points, quantity: str, rules: str) -> tuple[tuple[Chart, ...], str]:
    rows = [[_row_value(row, quantity) for row in each.point.rows] for each in points]
    known = [[value for value in row if np.isfinite(value)] for row in rows]
    if not any(len(row) > 1 for row in known):
        return (), "No run has two strips of one batch, so nothing varies within a run."
    width = max(len(row) for row in rows)
    samples = np.array([row + [np.nan] * (width - len(row)) for row in rows])
    several = [row for row in known if len(row) > 1]
    sd = spread_from_sample_ranges(
        [max(row) - min(row) for row in several], [len(row) for row in several], least=READING_SD
    ).standard_deviation.value

    def charted(stretch: Sequence[ChartPoint], aim: QuantityAim | None) -> tuple[Chart, Chart]:
        start = points.index(stretch[0])
        return mean_range_charts(
            samples[start : start + len(stretch)],
            centre=aim.centre.value if aim else None,
            standard_deviation=sd,
            phase=[each.phase for each in stretch],
            rules=rules,
        )

    return _joined(points, quantity, charted), ""


def _ewma(points, quantity: str, rules: str) -> tuple[tuple[Chart, ...], str]:
    held, withheld = _with_aims(points, quantity)

    def charted(stretch: Sequence[ChartPoint], aim: QuantityAim | None) -> tuple[Chart, ...]:
        return (
            ewma_chart(
                _values(stretch, quantity) if aim else np.full(len(stretch), np.nan),
                centre=aim.centre.value if aim else 0.0,
                standard_deviation=aim.action / 3 if aim else 1.0,
                weight=EWMA_WEIGHT,
                phase=[each.phase for each in stretch],
            ),
        )

    return _joined(points, quantity, charted) if held else (), withheld


def _cusum(points, quantity: str, rules: str) -> tuple[tuple[Chart, ...], str]:
    held, withheld = _with_aims(points, quantity)

    def charted(stretch: Sequence[ChartPoint], aim: QuantityAim | None) -> tuple[Chart, Chart]:
        sd = aim.action / 3 if aim else 1.0
        return cusum_charts(
            _values(stretch, quantity) if aim else np.full(len(stretch), np.nan),
            centre=aim.centre.value if aim else 0.0,
            allowance=CUSUM_ALLOWANCE * sd,
            decision=CUSUM_DECISION * sd,
            phase=[each.phase for each in stretch],
        )

    return _joined(points, quantity, charted) if held else (), withheld


CHARTS: dict[str, Callable] = {
    "individuals": _individuals, "means": _means, "ewma": _ewma, "cusum": _cusum
}  # fmt: skip


def _with_aims(points, quantity: str) -> tuple[bool, str]:
    lacking = sum(_aim(each, quantity) is None for each in points)
    if not lacking:
        return bool(points), ""
    return lacking < len(points), (
        f"{lacking} of {len(points)} strips have no aim for it and are left out; this chart counts "
        "how far a run is from its aim."
    )


def _joined(points: Sequence[ChartPoint], quantity: str, charted: Callable) -> tuple[Chart, ...]:
    """Chart each stretch of runs under the same aims, and put the stretches one behind the other."""
    parts: list[tuple[Chart, ...]] = []
    for _, group in groupby(points, key=lambda each: each.aims.pk if each.aims else None):
        stretch = list(group)
        parts.append(charted(stretch, _aim(stretch[0], quantity)))
    return tuple(_one_behind_the_other(same) for same in zip(*parts, strict=True))


def _one_behind_the_other(charts: Sequence[Chart]) -> Chart:
    if len(charts) == 1:
        return charts[0]
    lines = ("values", "centre", "warning_low", "warning_high", "action_low", "action_high")
    phases: list[ChartPhase] = []
    signals = []
    offset = 0
    for chart in charts:
        phases += [replace(p, start=p.start + offset, stop=p.stop + offset) for p in chart.phases]
        signals += [
            replace(s, index=s.index + offset, window=tuple(i + offset for i in s.window))
            for s in chart.signals
        ]
        offset += chart.values.size
    joined = {line: np.concatenate([getattr(chart, line) for chart in charts]) for line in lines}
    return replace(charts[-1], **joined, phases=tuple(phases), signals=tuple(signals))


def _aim(point: ChartPoint, quantity: str) -> QuantityAim | None:
    aim = point.aim.aims.get(quantity) if point.aim else None
    return aim if aim is not None and aim.is_known else None


def _values(points: Sequence[ChartPoint], quantity: str) -> np.ndarray:
    values = [each.point.strip.value(quantity) for each in points]
    return np.array([np.nan if value is None else value for value in values], dtype=float)


def _row_value(row: dict, quantity: str) -> float:
    needed = ("high_step", "speed_step") if quantity == "contrast" else (quantity,)
    values = [row[place] for place in needed if place in PLACES]
    if any(value is None for value in values):
        return float("nan")
    return values[0] - values[1] if quantity == "contrast" else values[0]
